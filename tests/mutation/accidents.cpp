#include "tests/mutation/accidents.hpp"

#include <algorithm>
#include <fmt/format.h>
#include <initializer_list>
#include <regex>

namespace athanor::mutation {

namespace {

using Random = std::mt19937;

double one_of(Random& random, std::initializer_list<double> list) {
    return *(list.begin() + static_cast<std::ptrdiff_t>(random() % list.size()));
}

std::string_view one_of(Random& random, std::initializer_list<std::string_view> list) {
    return *(list.begin() + static_cast<std::ptrdiff_t>(random() % list.size()));
}

// --- statements ----------------------------------------------------------------------------------

/// A statement with its block: lines [first, last).
struct Piece {
    std::size_t first = 0, last = 0;
    int depth = 0;
};

std::vector<Piece> statements(const std::vector<std::string>& lines) {
    std::vector<Piece> list, open;
    int depth = 0;
    for (std::size_t i = 0; i < lines.size(); ++i) {
        const std::string& line = lines[i];
        const std::size_t begin = line.find_first_not_of(' ');
        if (begin == std::string::npos || line[begin] == '#') continue;
        const int before = depth;
        depth += static_cast<int>(std::count(line.begin(), line.end(), '{') -
                                  std::count(line.begin(), line.end(), '}'));
        if (before == 0 || line[begin] == '}') {
            if (line[begin] == '}' && !open.empty() && depth == open.back().depth) {
                open.back().last = i + 1;
                list.push_back(open.back());
                open.pop_back();
            }
            continue;
        }
        if (depth > before)
            open.push_back({i, i + 1, before});
        else
            list.push_back({i, i + 1, before});
    }
    std::sort(list.begin(), list.end(), [](Piece a, Piece b) { return a.first < b.first; });
    return list;
}

/// Some statement whose first line matches.
const std::string* pick(const Subject& s, Random& random, const std::regex& wanted, Piece& piece) {
    std::vector<Piece> list;
    for (const Piece& p : statements(s.recipe))
        if (std::regex_search(s.recipe[p.first], wanted)) list.push_back(p);
    if (list.empty()) return nullptr;
    piece = list[random() % list.size()];
    return &s.recipe[piece.first];
}

auto at(std::vector<std::string>& lines, std::size_t i) {
    return lines.begin() + static_cast<std::ptrdiff_t>(i);
}

bool drop(Subject& s, Random& random) {
    Piece p;
    static const std::regex any(".");
    if (pick(s, random, any, p) == nullptr) return false;
    s.recipe.erase(at(s.recipe, p.first), at(s.recipe, p.last));
    return true;
}

bool swap_neighbours(Subject& s, Random& random) {
    const std::vector<Piece> list = statements(s.recipe);
    std::vector<std::pair<Piece, Piece>> pairs;
    for (const Piece& a : list)
        for (const Piece& b : list)
            if (a.depth == b.depth && b.first >= a.last &&
                std::none_of(list.begin(), list.end(), [&](const Piece& c) {
                    return c.depth <= a.depth && c.first >= a.last && c.first < b.first;
                }))
                pairs.emplace_back(a, b);
    if (pairs.empty()) return false;
    const auto [a, b] = pairs[random() % pairs.size()];
    std::rotate(at(s.recipe, a.first), at(s.recipe, b.first), at(s.recipe, b.last));
    return true;
}

/// To any other place among the statements of its depth.
bool move(Subject& s, Random& random) {
    Piece p, q;
    static const std::regex any(".");
    if (pick(s, random, any, p) == nullptr || pick(s, random, any, q) == nullptr) return false;
    if (q.depth != p.depth || q.first == p.first) return false;
    if (q.first > p.first)
        std::rotate(at(s.recipe, p.first), at(s.recipe, p.last), at(s.recipe, q.last));
    else
        std::rotate(at(s.recipe, q.first), at(s.recipe, p.first), at(s.recipe, p.last));
    return true;
}

bool insert(Subject& s, Random& random) {
    Piece p;
    static const std::regex any(".");
    if (pick(s, random, any, p) == nullptr) return false;
    const std::string_view line =
        one_of(random, {"close argon", "close all", "open hydrogen at 0.5 slm", "switch to hydrogen at 0.4 slm",
                        "wait for operator \"look\" with tube open", "wait for operator \"look\"",
                        "evacuate to 1 mbar", "shut burner", "cool to 600 degC", "cool to 740 degC at 2 K/min",
                        "dwell 30 min", "switch to argon at 1.5 L/min", "open carbon_dioxide at 0.4 L/min",
                        "switch to forming at 1 slm", "purge argon at 1.5 L/min for 10 min"});
    s.recipe.insert(at(s.recipe, p.first),
                    std::string(static_cast<std::size_t>(4 * p.depth), ' ') + std::string(line));
    return true;
}

// --- numbers -------------------------------------------------------------------------------------

/// One number, found as the first group of a pattern in one of several stretches of text, goes through `f`.
template<class F>
bool number(std::vector<std::string*> where, Random& random, const std::regex& pattern, F f) {
    std::vector<std::pair<std::string*, std::smatch>> found;
    for (std::string* text : where)
        for (std::sregex_iterator i(text->begin(), text->end(), pattern), end; i != end; ++i)
            found.emplace_back(text, *i);
    if (found.empty()) return false;
    auto& [text, match] = found[random() % found.size()];
    const double value = f(std::stod(match[1]));
    const auto position = static_cast<std::size_t>(match.position(1)),
               length = static_cast<std::size_t>(match.length(1));
    text->replace(position, length, fmt::format("{:.4g}", value));
    return true;
}

/// Everything but requirements: loosened, they would ask for less, and that is another accident.
std::vector<std::string*> orders(Subject& s) {
    std::vector<std::string*> list;
    for (std::string& line : s.recipe)
        if (line.find("require ") == std::string::npos && line.find("expect ") == std::string::npos &&
            line.find('#') != 0)
            list.push_back(&line);
    return list;
}

bool flow(Subject& s, Random& random) {
    static const std::regex p(R"(\b([0-9.]+) (?:L/min|mL/min|slm|sccm)\b)");
    const double by = one_of(random, {0.5, 2, 0.25, 0.8, 1.3});
    return number(orders(s), random, p, [&](double x) { return x * by; });
}

bool temperature(Subject& s, Random& random) {
    static const std::regex p(R"(\b([0-9.]+) degC)");
    const double by = 5 + static_cast<double>(random() % 146);
    return number(orders(s), random, p, [&](double x) { return x - by; });
}

bool dwell(Subject& s, Random& random) {
    static const std::regex p(R"((?:dwell|time =) ([0-9.]+) (?:h|min)\b)");
    const double by = one_of(random, {0.5, 0.25, 0.1, 0.03});
    return number(orders(s), random, p, [&](double x) { return x * by; });
}

bool rate(Subject& s, Random& random) {
    static const std::regex p(R"(\b([0-9.]+) K/min)");
    const double by = one_of(random, {0.3, 0.6, 1.5, 2, 3});
    return number(orders(s), random, p, [&](double x) { return x * by; });
}

bool limit(Subject& s, Random& random) {
    static const std::regex p(R"((?:< |limit = )([0-9.]+) (?:ppm|%))");
    const double by = one_of(random, {2, 5, 20, 100, 1000});
    return number(orders(s), random, p, [&](double x) { return x * by; });
}

// --- wholes --------------------------------------------------------------------------------------

bool replace_line(Subject& s, Random& random, const std::regex& wanted, const std::string& by) {
    Piece p;
    const std::string* line = pick(s, random, wanted, p);
    if (line == nullptr) return false;
    s.recipe[p.first] = std::regex_replace(*line, wanted, by);
    return true;
}

bool until(Subject& s, Random& random) {
    const std::string time = fmt::format("{} min", one_of(random, {1, 2, 5, 10, 20, 40}));
    static const std::regex purge(R"((purge .*)until.*)"), held(R"(dwell until.*)"),
        call(R"(inert_purge\(feed = ([^,]+),.*)"), clear(R"(clear_flammable\(feed = (.+)\))");
    switch (random() % 4) {
    case 0: return replace_line(s, random, purge, "$1for " + time);
    case 1: return replace_line(s, random, held, "dwell " + time);
    case 2: return replace_line(s, random, call, "purge argon at $1 for " + time);
    default: return replace_line(s, random, clear, "switch to argon at $1");
    }
}

bool burner(Subject& s, Random& random) {
    static const std::regex light("light burner"), either("(light|shut) burner");
    if (random() % 2 == 0) return replace_line(s, random, light, "shut burner");
    return replace_line(s, random, either, "note \"burner\"");
}

bool exchange(Subject& s, Random& random) {
    static const std::regex p(R"(\b(argon|hydrogen|carbon_dioxide|forming)\b)");
    Piece piece;
    static const std::regex not_required(
        R"(^ *(?!require|expect).*\b(argon|hydrogen|carbon_dioxide|forming)\b)");
    const std::string* line = pick(s, random, not_required, piece);
    if (line == nullptr) return false;
    s.recipe[piece.first] = std::regex_replace(
        *line, p, std::string(one_of(random, {"argon", "hydrogen", "carbon_dioxide", "forming"})));
    return true;
}

/// What is asked for no longer stands in the way of what is dangerous.
bool requirements(Subject& s, Random&) {
    return std::erase_if(s.recipe, [](const std::string& line) {
               return line.find("    require ") == 0 || line.find("    expect ") == 0;
           }) > 0;
}

bool soak_band(Subject& s, Random& random) {
    static const std::regex p(R"( within [0-9.]+ K)");
    return replace_line(s, random, p, "");
}

// --- the rig -------------------------------------------------------------------------------------

/// The file's first rig, which its others are made from.
std::string first_rig(const Subject& s, std::string& rest) {
    const std::size_t one = s.rig.find("\nrig "), two = s.rig.find("\nrig ", one + 1);
    if (two == std::string::npos) return s.rig;
    rest = s.rig.substr(two);
    return s.rig.substr(0, two);
}

template<class F>
bool rig_number(Subject& s, Random& random, const char* pattern, F f) {
    std::string rest, text = first_rig(s, rest);
    if (!number({&text}, random, std::regex(pattern), f)) return false;
    s.rig = text + rest;
    return true;
}

bool rig_text(Subject& s, const char* pattern, const char* by) {
    std::string rest, text = first_rig(s, rest);
    const std::string changed =
        std::regex_replace(text, std::regex(pattern), by, std::regex_constants::format_first_only);
    if (changed == text) return false;
    s.rig = changed + rest;
    return true;
}

bool leak(Subject& s, Random& random) {
    const double by = one_of(random, {3, 10, 30, 100});
    return rig_number(s, random, R"(leak_rate ([0-9.e-]+))", [&](double x) { return x * by; });
}

bool mixing(Subject& s, Random& random) {
    const double by = one_of(random, {0.3, 0.5, 0.8});
    return rig_number(s, random, R"(mixing ([0-9.]+) to)", [&](double x) { return x * by; });
}

bool falls_shut(Subject& s, Random&) {
    return rig_text(s, "de_energised open(, [^\n;]*)?", "de_energised closed");
}

bool falls_open(Subject& s, Random&) {
    return rig_text(s, "de_energised closed", "de_energised open");
}

bool no_backup(Subject& s, Random& random) {
    return random() % 2 == 0 ? rig_text(s, "backup_power yes", "backup_power no")
                             : rig_text(s, "pilot yes", "pilot no");
}

bool furnace(Subject& s, Random& random) {
    const double by = one_of(random, {0.3, 0.6, 0.8, 1.3, 1.6});
    switch (random() % 3) {
    case 0: return rig_number(s, random, R"(heat_up ([0-9.]+) )", [&](double x) { return x * by; });
    case 1: return rig_number(s, random, R"(in ([0-9.]+) h ± )", [&](double x) { return x * by; });
    default: return rig_number(s, random, R"(holding_power ([0-9.]+) )", [&](double x) { return x * by; });
    }
}

bool load(Subject& s, Random& random) {
    const double by = one_of(random, {2, 5, 15});
    if (random() % 3 == 0)
        return rig_text(s, "load_lag",
                        random() % 2 == 0 ? "load_offset -40 K to 5 K\n    load_lag"
                                          : "load_offset -15 K to 0 K\n    load_lag");
    return rig_number(s, random, R"(load_lag [0-9.]+ min to ([0-9.]+))", [&](double x) { return x * by; });
}

bool sensor(Subject& s, Random&) {
    return rig_text(s, "class 1", "class 2");
}

bool meter(Subject& s, Random& random) {
    const double by = one_of(random, {2, 4, 8});
    return rig_number(s, random, R"(accuracy ([0-9.]+) %)", [&](double x) { return x * by; });
}

bool pressure(Subject& s, Random& random) {
    const double by = one_of(random, {0.1, 0.3, 0.6, 1.5, 3});
    switch (random() % 4) {
    case 0: return rig_number(s, random, R"(rated ([0-9.]+) mbar)", [&](double x) { return x * by; });
    case 1: return rig_number(s, random, R"(relief ([0-9.]+) mbar)", [&](double x) { return x * by; });
    case 2: return rig_number(s, random, R"(supply ([0-9.]+) mbar)", [&](double x) { return x * by; });
    default: return rig_text(s, "\n    relief [^\n]*", "");
    }
}

bool plugs(Subject& s, Random& random) {
    const double by = one_of(random, {3, 10});
    if (random() % 2 == 0)
        return rig_text(s, R"(air_release [0-9]+ min to [0-9]+ min)", "air_release 5 min to 40 min");
    return rig_number(s, random, R"(air_release [0-9.]+ min to ([0-9.]+))", [&](double x) { return x * by; });
}

bool exhaust(Subject& s, Random& random) {
    switch (random() % 4) {
    case 0: return rig_text(s, R"(exhaust [^\n]*)", "exhaust into extraction_hood { backup_power yes }");
    case 1: return rig_text(s, R"(exhaust [^\n]*)", "exhaust shut");
    case 2: return rig_text(s, R"(exhaust [^\n]*)", "exhaust open");
    default:
        return rig_text(s, R"(exhaust afterburner \{ output 4)", "exhaust afterburner { output 4 ; pilot yes");
    }
}

bool ends(Subject& s, Random& random) {
    if (random() % 2 == 0) return rig_text(s, R"(seals [^\n]*)", "seals none");
    return rig_text(s, R"(ends [^\n]*)", "ends open_ends");
}

bool size(Subject& s, Random& random) {
    const double by = one_of(random, {0.7, 1.3, 2, 3});
    return rig_number(s, random, R"((?:inner_diameter|length) ([0-9.]+) mm)", [&](double x) { return x * by; });
}

bool no_interlock(Subject& s, Random&) {
    return rig_text(s, R"(interlock [^\n]*)", "");
}

constexpr Kind table[] = {
    {"statement dropped", drop},
    {"statement dropped", drop}, // as often as two others
    {"neighbours swapped", swap_neighbours},
    {"neighbours swapped", swap_neighbours},
    {"statement moved", move},
    {"statement added", insert},
    {"flow changed", flow},
    {"flow changed", flow},
    {"temperature lowered", temperature},
    {"temperature lowered", temperature},
    {"dwell shortened", dwell},
    {"rate changed", rate},
    {"limit of a wait loosened", limit},
    {"wait shortened to a fixed time", until},
    {"wait shortened to a fixed time", until},
    {"burner dropped", burner},
    {"lines exchanged", exchange},
    {"requirements dropped", requirements},
    {"soak band dropped", soak_band},
    {"leak greater", leak},
    {"mixing worse", mixing},
    {"valve falls shut", falls_shut},
    {"valve falls open", falls_open},
    {"no backup", no_backup},
    {"furnace hotter or colder", furnace},
    {"load slower or colder", load},
    {"sensor worse", sensor},
    {"meter worse", meter},
    {"ratings of pressure", pressure},
    {"plugs worse", plugs},
    {"exhaust exchanged", exhaust},
    {"ends or seals open", ends},
    {"tube of another size", size},
    {"no interlock", no_interlock},
};

} // namespace

std::span<const Kind> accidents() {
    return table;
}

} // namespace athanor::mutation
