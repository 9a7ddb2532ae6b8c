// Words for a person that ask for what nothing was proven of: a tube that the recipe keeps shut is opened, a
// supply that is counted on is shut off. Advice, since words are read by their trade's use and no more.
#include "compiler/prove/checks.hpp"
#include "compiler/prove/room.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace athanor::prove {
namespace {

using Words = std::vector<std::string>;

/// In lower case, without what stands between them.
Words words_of(std::string_view text) {
    Words words;
    bool inside = false;
    for (const char c : text) {
        const bool letter =
            (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_';
        if (letter && !inside) words.emplace_back();
        if (letter) words.back() += c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
        inside = letter;
    }
    return words;
}

bool among(std::span<const std::string_view> list, std::string_view word) {
    return std::find(list.begin(), list.end(), word) != list.end();
}

constexpr std::array<std::string_view, 23> opening{
    "open",     "remove", "take",  "pull",     "draw",   "lift",      "undo",    "unclamp",
    "unscrew",  "loosen", "load",  "unload",   "insert", "push",      "replace", "change",
    "exchange", "unseal", "break", "withdraw", "put",    "introduce", "extract"};
constexpr std::array<std::string_view, 19> of_tube{
    "tube", "furnace", "cap",  "caps",  "flange",   "flanges",   "plug",   "plugs",   "seal",   "seals",
    "door", "lid",     "boat", "boats", "crucible", "crucibles", "sample", "samples", "shields"};
constexpr std::array<std::string_view, 6> shutting{"close", "shut", "turn", "switch", "disconnect", "stop"};
/// What is opened or shut beside the tube.
constexpr std::array<std::string_view, 10> elsewhere{"valve", "valves", "tap",  "cylinder", "regulator",
                                                     "meter", "burner", "fuel", "gas",      "mains"};
/// What a door, a cap or a plug may belong to that is no furnace.
constexpr std::array<std::string_view, 8> of_others{"room",   "laboratory", "lab",    "lamp",
                                                    "bottle", "cabinet",    "window", "gas"};
/// What moves a sample while the tube stays shut.
constexpr std::array<std::string_view, 2> inside{"magnet", "rod"};
/// A supply whose gas is not named, and what else has one.
constexpr std::array<std::string_view, 11> any_supply{"gas",      "gases",      "supply",    "supplies",
                                                      "cylinder", "cylinders",  "regulator", "valves",
                                                      "bottles",  "regulators", "lines"};
constexpr std::array<std::string_view, 13> no_gas{"water",   "cooling", "power",   "air",  "heater",
                                                  "heating", "burner",  "fuel",    "pump", "vacuum",
                                                  "cabinet", "alarm",   "detector"};
/// Behind these stands when, no more what.
constexpr std::array<std::string_view, 6> clauses{"when", "while", "if", "until", "before", "after"};
constexpr std::array<std::string_view, 3> of_burner{"burner", "flame", "pilot"};
constexpr std::array<std::string_view, 4> way_out{"exhaust", "outlet", "hood", "extraction"};
constexpr std::array<std::string_view, 4> denying{"not", "never", "don", "nor"};
constexpr std::size_t reach = 5; // words behind the verb

bool denied(const Words& words, std::size_t verb) {
    for (std::size_t k = verb > 2 ? verb - 2 : 0; k < verb; ++k)
        if (among(denying, words[k])) return true;
    return false;
}

bool opens_tube(const Words& words) {
    if (std::any_of(words.begin(), words.end(), [](const std::string& w) { return among(inside, w); }))
        return false;
    for (std::size_t i = 0; i < words.size(); ++i) {
        if (!among(opening, words[i]) || denied(words, i)) continue;
        for (std::size_t k = i + 1; k < words.size() && k <= i + reach; ++k) {
            if (among(elsewhere, words[k])) break;
            if (!among(of_tube, words[k])) continue;
            bool other = false;
            for (std::size_t n = k + 1; n < words.size() && n <= k + 3; ++n)
                other = other || among(of_others, words[n]) || (words[n] == "exhaust" && words[k] == "sample");
            if (!other) return true;
            break;
        }
    }
    return false;
}

/// Whether the words shut one of `names`, and nothing of `unless`.
bool shuts(const Words& words, std::span<const std::string_view> names,
           std::span<const std::string_view> unless = {}) {
    for (std::size_t i = 0; i < words.size(); ++i) {
        if (!among(shutting, words[i]) || denied(words, i)) continue;
        const bool turns = words[i] == "turn" || words[i] == "switch";
        bool off = false, named = false, other = false;
        for (std::size_t k = i + 1; k < words.size() && k <= i + reach; ++k) {
            if (among(clauses, words[k]) || (turns && (words[k] == "on" || words[k] == "to"))) break;
            off = off || words[k] == "off";
            named = named || among(names, words[k]);
            other = other || among(unless, words[k]);
        }
        if (named && !other && (!turns || off)) return true;
    }
    return false;
}

class Spoken {
public:
    explicit Spoken(Scene& s) : s_(s) {}

    void judge() {
        for (std::size_t i = 0; i < s_.spans(); ++i) {
            const timeline::Span& span = s_.timeline.spans[i];
            for (timeline::Index a = 0; a < span.actions; ++a) {
                const timeline::Action& action = s_.timeline.actions[span.first_action + a];
                if (action.kind == timeline::ActionKind::note) hear(i, i, action.text, action.source);
            }
            if (span.ending.kind == timeline::EndingKind::person) hear(i, i + 1, span.ending.text, span.source);
        }
    }

private:
    /// `next`: the first step that runs once it is done; what a note says is done at once, a wait ends behind
    /// it.
    void hear(std::size_t span, std::size_t next, timeline::Index text, athanor::Span source) {
        if (text == timeline::none) return;
        const std::string& said = s_.timeline.texts[text];
        const Words words = words_of(said);
        if (!s_.discrete(span).tube_open && opens_tube(words)) opened(span, said, source);
        shut_lines(words, next, span, said, source);
        // The one burner, and the one way out.
        if (shuts(words, of_burner) && burns_later(next))
            tell(span, source, fmt::format("“{}” shuts the burner that the run still counts on", said))
                .cause("what leaves is proven to burn")
                .remedy("let the recipe shut it, once the tube is cleared:  shut burner");
        if (shuts(words, way_out) && flows_later(next))
            tell(span, source, fmt::format("“{}” shuts the way out of a run that gas still flows in", said))
                .cause("pressure, room and people are proven with the exhaust as the rig declares it")
                .remedy("leave the way out open until no gas flows any more");
    }

    /// Each line that is named; where none is, the first that is counted on of those that "the gas" may be.
    void shut_lines(const Words& words, std::size_t next, std::size_t span, const std::string& said,
                    athanor::Span source) {
        bool any_named = false;
        timeline::Index counted = timeline::none;
        for (timeline::Index l = 0; l < s_.rig.lines.size(); ++l) {
            const check::Line& line = s_.rig.lines[l];
            const std::string_view gas = line.gas != check::none ? s_.model.gases[line.gas].name : line.name;
            const bool named = shuts(words, std::array<std::string_view, 2>{line.name, gas});
            any_named = any_named || named;
            if (!counted_on(l, next)) continue;
            if (counted == timeline::none) counted = l;
            if (named) shut(l, span, said, source);
        }
        if (!any_named && counted != timeline::none && shuts(words, any_supply, no_gas))
            shut(counted, span, said, source);
    }

    /// In a step from `next` on that takes time.
    bool burns_later(std::size_t next) const {
        for (std::size_t i = next; i < s_.spans(); ++i)
            if (s_.timeline.spans[i].duration.hi > 0 && s_.discrete(i).burner) return true;
        return false;
    }
    bool flows_later(std::size_t next) const {
        for (timeline::Index l = 0; l < s_.rig.lines.size(); ++l)
            if (taken_later(l, next)) return true;
        return false;
    }
    bool taken_later(timeline::Index line, std::size_t next) const {
        for (std::size_t i = next; i < s_.spans(); ++i)
            if (s_.timeline.spans[i].duration.hi > 0 && s_.may_be_open(line, i)) return true;
        return false;
    }

    void opened(std::size_t span, const std::string& said, athanor::Span source) {
        const plant::State now = s_.walk.arrival(span);
        const double hot = s_.plant
                               .signal({timeline::SignalKind::temperature, timeline::none}, now,
                                       s_.discrete(span == 0 ? 0 : span - 1))
                               .hi;
        const auto oxygen = s_.species("oxygen");
        const bool air = !oxygen || now.fraction[*oxygen].lo > breathable; // full of it
        const bool evacuated = now.pressure.lo < s_.rig.ambient_pressure.lo() - plant::evacuated_below;
        if (hot <= plant::left_alone && air && !evacuated) return; // it stands open to the room as it is
        tell(span, source,
             fmt::format("“{}” may be taken for an order to open a tube that the recipe keeps shut", said))
            .cause("what an open tube does to gas, load and people is proven only where the recipe opens it")
            .remedy("say that it is opened:  wait for operator \"…\" with tube open")
            .remedy("or say in other words what is to be done while it stays shut");
    }

    /// A later step takes its gas, or a failure would.
    bool counted_on(timeline::Index line, std::size_t next) const {
        if (taken_later(line, next)) return true;
        if (!s_.timeline.lines[line].falls_open()) return false;
        for (timeline::Index l = 0; l < s_.rig.lines.size(); ++l)
            if (s_.gas(l) != nullptr && s_.gas(l)->hazards.flammable && taken_later(l, next)) return true;
        return false;
    }

    void shut(timeline::Index line, std::size_t span, const std::string& said, athanor::Span source) {
        tell(span, source,
             fmt::format("“{}” shuts `{}`, whose gas the run still counts on", said, s_.rig.lines[line].name))
            .also(s_.rig.lines[line].source, "the line")
            .cause("what flows is proven with its supply open")
            .remedy("leave the supply open to the end of the run, or let the recipe close the line");
    }

    Diagnostic& tell(std::size_t span, athanor::Span source, std::string message) {
        return s_.out.warning(Code::words_unproven, source, std::move(message))
            .with_label(fmt::format("at {} of the run", to_clock(s_.walk.at_s(span))));
    }

    Scene& s_;
};

} // namespace

void check_words(Scene& scene) {
    Spoken(scene).judge();
}

} // namespace athanor::prove
