// Who works valve, burner or pump by hand may be late. The programme must then stand still, unless being late
// does no harm.
#include "compiler/prove/checks.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace athanor::prove {
namespace {

using timeline::EndingKind;
using timeline::State;

/// A gas that holds a flammable part, whether the whole can burn in air or not.
bool holds_fuel(const Scene& s, const check::Gas& gas) {
    return std::any_of(gas.parts.begin(), gas.parts.end(), [&](const auto& part) {
        return s.model.gases[part.first].hazards.flammable && part.second.hi > 0;
    });
}

class Hands {
public:
    explicit Hands(Scene& s) : s_(s) {}

    void judge() {
        if (!hazardous()) return;
        const State nothing;
        for (std::size_t b = 0; b < s_.spans(); ++b) {
            const timeline::Span& span = s_.timeline.spans[b];
            if (span.actions == 0) continue;
            const State* before = b == 0 ? &nothing : &s_.discrete(b - 1);
            for (timeline::Index a = 0; a < span.actions; ++a) {
                const timeline::Action& action = s_.timeline.actions[span.first_action + a];
                const State& after = s_.timeline.states[action.state];
                changed(*before, after, b, action.source);
                before = &after;
            }
        }
        if (!first_) return;
        s_.row("hand_not_waited_for", "Whoever works something by hand is waited for", holds_,
               holds_ ? fmt::format("{} by hand, each before the start or at a wait", count_) : std::string(),
               s_.walk.at_s(first_->first), first_->second);
    }

private:
    /// Elsewhere a late hand spoils the run and hurts nobody.
    bool hazardous() const {
        if (s_.uses(check::Hazard::flammable) || s_.uses(check::Hazard::toxic)) return true;
        bool pumps = false, fuel = false, enriched = false;
        double ignites = infinity; // K, of a lean gas that burns where air meets it hot
        for (timeline::Index l = 0; l < s_.rig.lines.size(); ++l) {
            const check::Gas* gas = s_.gas(l);
            if (gas == nullptr || !s_.timeline.lines[l].ever_open()) continue;
            enriched = enriched || gas->hazards.enriched;
            fuel = fuel || holds_fuel(s_, *gas);
            if (fuel_in(s_.model, *gas) > 1) ignites = std::min(ignites, ignites_at(s_.model, *gas));
        }
        if (fuel && s_.uses(check::Hazard::oxidiser)) return true;
        for (std::size_t i = 0; i < s_.spans(); ++i) {
            pumps = pumps || s_.discrete(i).pump;
            if (std::isfinite(ignites) &&
                s_.plant.signal({timeline::SignalKind::temperature, timeline::none}, s_.over(i), s_.discrete(i))
                        .hi >= ignites)
                return true;
            if (fuel && s_.made(s_.over(i), s_.discrete(i))) return true;
        }
        // A pump's oil burns in oxygen that somebody has not shut.
        return pumps && enriched;
    }

    void changed(const State& before, const State& after, std::size_t boundary, athanor::Span source) {
        for (timeline::Index l = 0; l < s_.rig.lines.size(); ++l) {
            if (s_.timeline.lines[l].output != 0 || s_.gas(l) == nullptr) continue;
            const bool was = l < before.open.size() && before.open[l], is = after.open[l];
            if (was == is) continue;
            const check::Hazards& h = s_.gas(l)->hazards;
            // A gas that does no harm may flow on for a while.
            const bool fuel = h.flammable || h.toxic || holds_fuel(s_, *s_.gas(l));
            if (!is && !h.oxidiser && !fuel) continue;
            // While a wait behind lasts, fuel may flow on, and no inert gas in its place.
            const bool only_before = is ? h.inert && !h.flammable : fuel;
            one(boundary, source, only_before,
                fmt::format("`{}` is {} by hand", s_.rig.lines[l].name, is ? "opened" : "closed"),
                s_.rig.lines[l].source, fmt::format("line {} {{ output 5 }}", s_.rig.lines[l].name));
        }
        // A burner that burns on does no harm.
        if (s_.timeline.burner.present && s_.timeline.burner.output == 0 && !before.burner && after.burner)
            one(boundary, source, false, "the burner is lit by hand", s_.rig.exhaust.source,
                "exhaust afterburner { output 4 }");
        if (s_.timeline.pump.present && s_.timeline.pump.output == 0 && before.pump != after.pump)
            one(boundary, source, false,
                fmt::format("the pump's valve is {} by hand", after.pump ? "opened" : "closed"),
                s_.rig.pump.source, "pump { output 3 }");
    }

    void one(std::size_t boundary, athanor::Span source, bool only_before, const std::string& what,
             athanor::Span declared, const std::string& wired) {
        ++count_;
        const bool behind = waits_behind(boundary);
        const bool waited = waited_before(boundary) || (behind && !only_before);
        if (!first_ || (!waited && holds_)) first_ = {boundary, source};
        if (waited) return;
        holds_ = false;
        s_.out
            .error(Code::hand_not_waited_for, source,
                   what + (behind ? ", and the wait stands behind it: nobody may come for as long as it lasts"
                                  : ", and the programme goes on whether anybody has come or not"))
            .with_label(fmt::format("at {} of the run", to_clock(s_.walk.at_s(boundary))))
            .also(declared, "no output works it")
            .cause("what comes behind is proven for a hand that acts at this instant")
            .remedy("let the programme stand still for it:  wait for operator \"…\"  directly before")
            .remedy("or let the controller work it:  " + wired);
    }

    bool person(std::size_t span) const { return s_.timeline.spans[span].ending.kind == EndingKind::person; }
    bool timed(std::size_t span) const { return s_.timeline.spans[span].duration.hi > 0; }

    /// With no time between.
    bool waits_behind(std::size_t boundary) const {
        for (std::size_t i = boundary; i < s_.spans(); ++i) {
            if (person(i)) return true;
            if (timed(i)) break;
        }
        return false;
    }

    /// Directly before, or nothing has begun.
    bool waited_before(std::size_t boundary) const {
        for (std::size_t i = boundary; i-- > 0;) {
            if (person(i)) return true;
            if (timed(i)) return false;
        }
        return true;
    }

    Scene& s_;
    std::size_t count_ = 0;
    bool holds_ = true;
    std::optional<std::pair<std::size_t, athanor::Span>> first_; // boundary and statement
};

} // namespace

void check_hands(Scene& scene) {
    Hands(scene).judge();
}

} // namespace athanor::prove
