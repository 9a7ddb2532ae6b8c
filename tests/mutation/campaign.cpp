// Recipes and rigs to which small accidents are done: none that the simulator finds unsafe may be proven.
#include "tests/mutation/compile.hpp"
#include "tests/mutation/danger.hpp"
#include "tests/mutation/policy.hpp"

#include <algorithm>
#include <array>
#include <cstdlib>
#include <doctest/doctest.h>
#include <filesystem>
#include <iostream>
#include <map>

using namespace athanor;
using namespace athanor::mutation;

namespace {

std::size_t asked(const char* name, std::size_t otherwise) {
    const char* text = std::getenv(name);
    return text != nullptr ? static_cast<std::size_t>(std::atoll(text)) : otherwise;
}

std::vector<Subject> subjects() {
    std::vector<std::string> paths;
    for (const char* folder : {ATHANOR_ROOT "/recipes", ATHANOR_ROOT "/tests/examples/accepted"})
        for (const auto& entry : std::filesystem::directory_iterator(folder))
            if (entry.path().extension() == ".ath") paths.push_back(entry.path());
    std::sort(paths.begin(), paths.end());
    std::vector<Subject> list;
    for (const std::string& path : paths) list.push_back(subject(path));
    return list;
}

/// Sixty cycles say no more than three, and take long.
void fewer_cycles(Subject& s) {
    for (std::string& line : s.recipe)
        for (const char* many : {"repeat 40 times", "count = 60"}) {
            const std::size_t at = line.find(many);
            if (at != std::string::npos) line.replace(line.find_first_of("46", at), 2, "3");
        }
}

std::string accidents_of(const std::vector<Accident>& done) {
    std::string text;
    for (const Accident& a : done) text += (text.empty() ? "" : ", ") + std::string(name(a.kind));
    return text;
}

/// Undoes accidents as long as the rest is still accepted and still unsafe.
std::string shrunk(const Subject& base, std::vector<Accident> done, const Search& how) {
    const auto outcome = [&](const std::vector<Accident>& some, std::string& text) {
        Subject mutant = base;
        for (const Accident& a : some)
            if (!happen(a, mutant)) return false;
        const auto c = compile(mutant);
        Effort effort;
        if (!c->accepted) return false;
        const auto found = search(c->model, c->rig(), c->timeline(), how, effort);
        if (!found) return false;
        text = "--- " + accidents_of(some) + "\n" + joined(mutant.recipe) + "--- rig\n" + mutant.rig + "--- " +
               std::string(name(found->danger.harm)) + " at " + std::to_string(found->danger.time) +
               " s: " + found->danger.text + "\n--- " + simulator::describe(found->draw) + "\n--- " +
               (found->fault ? "power fails at " + std::to_string(found->fault->at) + " s" : "no failure") +
               "\n";
        return true;
    };
    std::string text;
    outcome(done, text);
    for (std::size_t i = 0; i < done.size() && done.size() > 1;) {
        std::vector<Accident> fewer = done;
        fewer.erase(fewer.begin() + static_cast<std::ptrdiff_t>(i));
        if (outcome(fewer, text))
            done = fewer;
        else
            ++i;
    }
    return text;
}

/// Rules that the simulator can judge: a refusal by another one (a rate, a meter, a controller, a text) says
/// nothing about what it looks at.
bool judged(Code code) {
    const Group g = group(code);
    if (code == Code::hand_meter_changed || code == Code::flow_out_of_range ||
        code == Code::cylinder_too_small || code == Code::asphyxiation || code == Code::toxic_not_vented ||
        code == Code::material_attacked || code == Code::condensation || code == Code::power_return ||
        code == Code::pump_vents_back || code == Code::oxygen_to_pump || code == Code::interlock_acts)
        return false;
    return g == Group::flammable_gas || g == Group::any_fault || g == Group::gas_and_pressure ||
           g == Group::vacuum || g == Group::requirement;
}

/// A refusal without any danger is right where the rule asks for more than that nothing happens: some drawn rig
/// falls short of its margin, or nobody can say how long a person or a controller waits.
enum class Why { margin, no_end, bounds };
constexpr std::array<std::string_view, 3> why_names{
    "a margin that a drawn rig falls short of", "a wait without an end", "bounds wider than the drawn rigs"};

struct Count {
    std::size_t mutants = 0, accepted = 0, refused = 0, refused_for_others = 0, searched = 0, unsafe = 0,
                accepted_unsafe = 0, accepted_short = 0;
    std::array<std::size_t, 3> safe{}; // by Why
    std::map<std::string, std::array<std::size_t, 3>> by_code;
    std::map<std::string, std::size_t> harms, accepted_kinds;

    std::size_t all_safe() const { return safe[0] + safe[1] + safe[2]; }
};

double percent(std::size_t part, std::size_t whole) {
    return 100.0 * static_cast<double>(part) / static_cast<double>(std::max<std::size_t>(1, whole));
}

} // namespace

TEST_CASE("no mutant that a simulated rig shows to be unsafe is proven") {
    const std::size_t wanted = asked("ATHANOR_MUTANTS", 200);
    const auto seed = static_cast<unsigned>(asked("ATHANOR_SEED", 20240601));
    const std::size_t shown = asked("ATHANOR_FAILURES", 3);
    const bool tell = std::getenv("ATHANOR_SAFE_REFUSED") != nullptr;
    std::vector<Subject> bases = subjects(), burning;
    for (Subject& s : bases) fewer_cycles(s);
    std::copy_if(bases.begin(), bases.end(), std::back_inserter(burning),
                 [](const Subject& s) { return s.flammable; });
    REQUIRE(bases.size() >= 15);
    REQUIRE(burning.size() >= 2);
    for (const Subject& s : bases) {
        const auto c = compile(s);
        CHECK_MESSAGE(c->accepted, s.path);
    }
    Count count;
    Effort effort;
    for (std::size_t i = 0; i < wanted; ++i) {
        std::mt19937 random(seed + 7919U * static_cast<unsigned>(i));
        // Two of three start from a recipe with flammable gas.
        const std::vector<Subject>& from = random() % 3 != 0 ? burning : bases;
        const Subject& base = from[random() % from.size()];
        Subject mutant;
        const std::vector<Accident> done = mutate(base, random, mutant);
        if (done.empty()) continue;
        ++count.mutants;
        const auto c = compile(mutant);
        Search how{static_cast<unsigned>(random()), 4, 4};
        std::set<std::string> broken;
        std::vector<prove::Instance> clauses;
        if (c->runs) {
            Diagnostics ignored; // a rule whose words the rig does not know was reported by the prover
            clauses = prove::instances(c->model, c->rig(), c->timeline(), ignored);
            how.look = [&](const simulator::Draw& draw, const simulator::Trajectory& run, bool failed) {
                broken.merge(broken_rules(clauses, c->model, c->rig(), c->timeline(), draw, run, failed));
            };
        }
        if (c->accepted) {
            ++count.accepted;
            for (const Accident& a : done) ++count.accepted_kinds[std::string(name(a.kind))];
            const auto found = search(c->model, c->rig(), c->timeline(), how, effort);
            if (!broken.empty() && ++count.accepted_short <= shown) {
                std::cout << "=== accepted, and a drawn rig breaks a rule, mutant " << i << " of " << base.path
                          << ": " << accidents_of(done) << ":";
                for (const std::string& rule : broken) std::cout << " " << rule;
                std::cout << std::endl;
            }
            if (!found) continue;
            ++count.accepted_unsafe;
            ++count.harms["accepted: " + std::string(name(found->danger.harm))];
            if (count.accepted_unsafe <= shown) {
                how.look = nullptr;
                std::cout << "=== accepted and unsafe, mutant " << i << " of " << base.path << "\n"
                          << shrunk(base, done, how) << std::endl;
            }
            continue;
        }
        ++count.refused;
        const std::set<Code> errors = c->errors();
        if (!c->runs || !std::all_of(errors.begin(), errors.end(), judged)) {
            ++count.refused_for_others;
            continue;
        }
        // Is it unsafe at all? The absence of a danger is looked for harder than its presence.
        ++count.searched;
        how.draws = 16;
        how.faults = 8;
        const auto found = search(c->model, c->rig(), c->timeline(), how, effort);
        if (found) {
            ++count.unsafe;
            ++count.harms[std::string(name(found->danger.harm))];
            continue;
        }
        const bool falls_short = std::any_of(errors.begin(), errors.end(), [&](Code code) {
            return broken.contains(std::string(athanor::name(code)));
        });
        const Why why = falls_short                               ? Why::margin
                        : errors.contains(Code::wait_without_end) ? Why::no_end
                                                                  : Why::bounds;
        ++count.safe[static_cast<std::size_t>(why)];
        std::string codes;
        for (const Code code : errors) codes += (codes.empty() ? "" : " ") + std::string(athanor::name(code));
        ++count.by_code[codes][static_cast<std::size_t>(why)];
        if (tell) {
            std::cout << "=== refused, no danger found (" << why_names[static_cast<std::size_t>(why)]
                      << "), mutant " << i << " of " << base.path << ": " << accidents_of(done) << ": " << codes
                      << "\n";
            if (std::getenv("ATHANOR_TEXT") != nullptr) {
                std::cout << joined(mutant.recipe);
                for (const Diagnostic& d : c->out.all())
                    if (d.severity == Severity::error) std::cout << "  " << d.rule << ": " << d.message << "\n";
            }
            std::cout << std::flush;
        }
    }
    MESSAGE(count.mutants, " mutants: ", count.accepted, " accepted, ", count.refused, " refused, of these ",
            count.refused_for_others, " by rules that the simulator does not judge");
    MESSAGE(effort.runs, " simulated runs, ", effort.faults, " failures of power, ", effort.steps, " steps, ",
            effort.given_up, " given up");
    MESSAGE("accepted and unsafe: ", count.accepted_unsafe);
    MESSAGE("accepted, and a drawn rig breaks a rule of the policy: ", count.accepted_short);
    MESSAGE("refused and searched: ", count.searched, ", unsafe ", count.unsafe, ", no danger found ",
            count.all_safe());
    const std::size_t safe = count.accepted - count.accepted_unsafe + count.all_safe();
    MESSAGE("share of mutants without danger that are refused: ", percent(count.all_safe(), safe), " %");
    for (std::size_t w = 0; w < why_names.size(); ++w)
        MESSAGE("of these for ", std::string(why_names[w]), ": ", count.safe[w], ", ",
                percent(count.safe[w], safe), " %");
    for (const auto& [harm, n] : count.harms) MESSAGE("harm: ", harm, " ", n);
    for (const auto& [codes, n] : count.by_code)
        MESSAGE("no danger found, refused by ", codes, ": margin ", n[0], ", no end ", n[1], ", bounds ", n[2]);
    for (const auto& [kind, n] : count.accepted_kinds) MESSAGE("accepted with: ", kind, " ", n);
    CHECK(count.accepted_unsafe == 0);
    CHECK(count.accepted_short == 0);
    // The campaign itself must see something.
    CHECK(count.accepted * 20 >= count.mutants);
    CHECK(count.unsafe * 10 >= count.searched);
    CHECK(effort.given_up * 100 <= effort.runs);
    CHECK(effort.faults > count.accepted);
}
