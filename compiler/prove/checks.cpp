#include "compiler/prove/checks.hpp"
#include "compiler/quantity/unit.hpp"
#include "compiler/timeline/held.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace athanor::prove {
namespace {

constexpr unsigned halvings = 7;       // a piece of a ten-hour span is then five minutes
constexpr double shortest_piece = 0.5; // s

} // namespace

Scene::Scene(const check::Model& model_, const check::Rig& rig_, const timeline::Timeline& timeline_,
             const plant::Plant& plant_, const Walk& walk_, const Aborts& aborts_,
             const program::Controller* controller_, const Files& files_, Diagnostics& out_,
             std::vector<Row>& rows_)
    : Hazards{model_, rig_, timeline_, plant_}, walk(walk_), aborts(aborts_), controller(controller_),
      files(files_), out(out_), rows(rows_) {}

const Scene::Extremes& Scene::extremes() const {
    if (extremes_) return *extremes_;
    Extremes& most = extremes_.emplace();
    for (std::size_t i = 0; i < spans(); ++i) {
        const KeptState state = over(i);
        for (const plant::ZoneState& zone : state.zones)
            if (zone.control.hi > most.hottest) most.hottest = zone.control.hi, most.hottest_at = i;
        most.inflow = std::max(most.inflow, state.inflow.hi);
        most.evacuated = most.evacuated || evacuated(state.pressure, discrete(i));
    }
    return most;
}

bool Scene::halve(std::size_t span, double from, double to, unsigned depth, const Predicate& predicate,
                  Found& found) const {
    plant::State state = plant.during(walk.entry(span), plant::drive(timeline, span), {from, to});
    if (!predicate(state, discrete(span))) return false;
    if (depth == 0 || to - from < shortest_piece) {
        found = {span, walk.at_s(span) + from, std::move(state)};
        return true;
    }
    const double middle = from + (to - from) / 2;
    return halve(span, from, middle, depth - 1, predicate, found) ||
           halve(span, middle, to, depth - 1, predicate, found);
}

std::optional<Scene::Found> Scene::first_in(std::size_t span, const Predicate& predicate) const {
    if (!predicate(over(span), discrete(span))) return std::nullopt;
    Found found;
    const double longest = std::min(timeline.spans[span].duration.hi, plant::for_ever);
    if (!halve(span, 0, std::max(longest, 0.0), halvings, predicate, found)) return std::nullopt;
    return found;
}

std::optional<Scene::Found> Scene::first(const Predicate& predicate) const {
    for (std::size_t i = 0; i < spans(); ++i)
        if (auto found = first_in(i, predicate)) return found;
    return std::nullopt;
}

Interval Scene::flow(timeline::Index line, const plant::State& state, const timeline::State& discrete) const {
    return plant.signal({timeline::SignalKind::flow, line}, state, discrete);
}

athanor::Span Scene::opened_at(timeline::Index line) const {
    for (std::size_t i = 0; i < spans(); ++i) {
        const timeline::Span& span = timeline.spans[i];
        for (timeline::Index a = span.first_action; a < span.first_action + span.actions; ++a) {
            const timeline::Action& action = timeline.actions[a];
            if (action.line == line && timeline.states[action.state].open[line]) return action.source;
        }
        if (may_be_open(line, i)) return span.source;
    }
    return rig.lines[line].source;
}

athanor::Span Scene::entered_by(std::size_t span) const {
    const timeline::Span& s = timeline.spans[span];
    athanor::Span found = s.source;
    const timeline::State* before =
        span == 0 ? timeline.states.data() : &timeline.states[timeline.spans[span - 1].state];
    for (timeline::Index a = s.first_action; a < s.first_action + s.actions; ++a) {
        const timeline::Action& action = timeline.actions[a];
        const timeline::State* after = &timeline.states[action.state];
        bool opens = after->pump && !before->pump;
        for (std::size_t l = 0; l < after->open.size(); ++l)
            opens = opens || (after->open[l] && !before->open[l]);
        if (opens) found = action.source;
        before = after;
    }
    return found;
}

std::optional<timeline::Index> Scene::species(std::string_view name) const {
    for (timeline::Index s = 0; s < timeline.species.size(); ++s)
        if (timeline.species[s] == name) return s;
    return std::nullopt;
}

std::optional<Scene::Opening> Scene::opening(std::size_t span) const {
    if (!discrete(span).tube_open || (span > 0 && discrete(span - 1).tube_open)) return std::nullopt;
    Opening found{discrete(span == 0 ? 0 : span - 1), discrete(span), walk.arrival(span), {}};
    found.shut.tube_open = false;
    plant::Drive waits = plant::drive(timeline, span);
    waits.state = &found.shut;
    found.meanwhile = plant.during(found.before, waits, {0, plant::for_ever});
    return found;
}

Scene::Behind Scene::behind_end() const {
    const timeline::State& last = timeline.states[timeline.end_state];
    if (controller == nullptr || !controller->holds_at_end) {
        Abort off = aborts(last);
        plant::State state = plant.during(walk.end, {off.laws.data(), &off.discrete}, {0, longest_abort});
        return {std::move(off.discrete), std::move(state)};
    }
    const timeline::Held held = timeline::held(timeline);
    const plant::Drive drive{held.laws.data(), &last, held.most.empty() ? nullptr : held.most.data()};
    return {last, plant.during(walk.end, drive, {0, longest_abort})};
}

bool Scene::quenches(std::size_t span) const {
    return timeline.spans[span].ending.quench;
}

std::string Scene::colder(std::size_t span, double limit) const {
    const std::size_t before = span == 0 ? 0 : span - 1;
    const plant::State now = walk.arrival(span);
    const timeline::State& state = discrete(before);
    const std::size_t zones = timeline.zones.size();
    const auto last = [&](std::size_t zone) { return laws_of(timeline, before, zone).to().hi; };
    const auto cold = [&](const plant::State& then) {
        return plant.signal({timeline::SignalKind::temperature, timeline::none}, then, state).hi <= limit;
    };
    for (const double to : {333.15, 323.15, 318.15, 313.15, 308.15, 303.15}) {
        std::vector<timeline::Law> laws;
        for (std::size_t z = 0; z < zones && last(z) > to; ++z)
            laws.push_back({timeline::LawKind::off, last(z), to, 0});
        if (laws.size() < zones) continue;
        timeline::Ending ending;
        ending.kind = timeline::EndingKind::passes;
        ending.temperature = to;
        const plant::Passage passage = plant.pass(now, {laws.data(), &state}, ending);
        if (passage.reachable && std::isfinite(passage.duration.hi) && cold(passage.exit))
            return fmt::format("cool to {}", to_text(to, Kind::temperature));
    }
    for (const double hours : {1, 2, 4, 8}) {
        std::vector<timeline::Law> laws;
        for (std::size_t z = 0; z < zones; ++z) laws.push_back({timeline::LawKind::hold, last(z), last(z), 0});
        timeline::Ending ending;
        ending.duration = hours * 3600;
        if (cold(plant.pass(now, {laws.data(), &state}, ending).exit))
            return fmt::format("dwell {}", to_text(ending.duration, Kind::time));
    }
    return {};
}

std::string Scene::moment(double at_s) const {
    if (at_s < run_ends) return fmt::format("at {} of the run", to_clock(at_s));
    return fmt::format("behind the end, while `{}` holds", controller->name);
}

std::string Scene::inert_line() const {
    return prove::inert_line(model, rig, timeline);
}

Row& Scene::row(std::string rule, std::string title, bool holds, std::string margin, double at_s,
                athanor::Span source) {
    Row row;
    row.rule = std::move(rule);
    row.title = std::move(title);
    row.verdict = holds ? plant::Verdict::proven : plant::Verdict::not_provable;
    row.margin = std::move(margin);
    row.at_s = at_s;
    row.source = source;
    return rows.emplace_back(std::move(row));
}

std::vector<Row> check_equipment(const check::Model& model, const check::Rig& rig,
                                 const timeline::Timeline& timeline, const plant::Plant& plant,
                                 const Walk& walk, const Aborts& aborts, const program::Controller* controller,
                                 const Files& files, Diagnostics& out) {
    std::vector<Row> rows;
    if (timeline.spans.empty()) return rows;
    Scene scene(model, rig, timeline, plant, walk, aborts, controller, files, out, rows);
    // What tube, seals and gas have to stand does not end with the programme where the controller holds.
    std::optional<timeline::Timeline> longer;
    std::optional<Walk> farther;
    std::optional<Aborts> later;
    std::optional<Scene> held;
    if (controller != nullptr && controller->holds_at_end) {
        longer = timeline::held_on(timeline);
        farther = walk.held_on(*longer);
        later.emplace(rig, *longer);
        held.emplace(model, rig, *longer, plant, *farther, *later, controller, files, out, rows);
        held->run_ends = walk.end_s;
    }
    Scene& whole = held ? *held : scene;
    check_supervision(scene);
    check_hands(scene);
    check_interlocks(scene);
    check_overpressure(whole);
    check_outlet(scene);
    check_toxic(scene);
    check_enriched(scene);
    check_load_oxidiser(scene);
    check_load(scene);
    check_lean(whole);
    check_opening(scene);
    check_end(scene);
    check_cylinders(scene);
    check_condensation(whole);
    check_materials(whole);
    check_room(scene);
    check_exposure(whole);
    check_words(scene);
    check_tube(whole);
    check_pump(scene);
    check_seals(whole);
    check_rates(scene);
    return rows;
}

} // namespace athanor::prove
