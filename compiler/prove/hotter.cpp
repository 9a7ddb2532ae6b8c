#include "compiler/prove/hotter.hpp"

#include "compiler/physics/constants.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

namespace athanor::prove {
namespace {

using timeline::Law;
using timeline::LawKind;

constexpr double band = 5, settles = 1200, step = 5, most_steps = 60; // K, s, K
constexpr double rate = 2.0 / 60;                                     // K/s
/// s that the gas may flow at the temperature: a hold that a band found stays within its bounds.
constexpr double flows = 4 * 3600;

class Hold {
public:
    Hold(const timeline::Timeline& timeline, const plant::Plant& plant, const Instance& instance,
         const Witness& witness)
        : timeline_(timeline), plant_(plant), instance_(instance), witness_(witness) {
        for (const plant::ZoneState& zone : witness.state.zones) from_ = std::max(from_, zone.setpoints.lo);
    }
    double from() const { return from_; }
    /// K, what the rule asks at least.
    double asked() const {
        const timeline::Condition asked = temperatures();
        return asked.terms.empty() ? 0 : asked.terms.front().value.hi;
    }

    /// After a line to `to`, none where it is there already, and a hold in the band.
    bool enough(double to) const {
        plant::State now = witness_.state;
        if (to > from_) {
            timeline::Ending line;
            line.duration = (to - from_) / rate;
            const plant::Passage way = pass(now, {LawKind::line, from_, to, rate}, line);
            if (!way.reachable) return false;
            now = way.exit;
        }
        const Law holds{LawKind::hold, to, to, 0};
        timeline::Ending settled;
        settled.kind = timeline::EndingKind::band;
        settled.band = band;
        settled.duration = settles;
        const plant::Passage wait = pass(now, holds, settled);
        if (!wait.reachable || !std::isfinite(wait.duration.hi)) return false;
        const std::vector<Law> laws(timeline_.zones.size(), holds);
        const plant::State later = plant_.during(wait.exit, {laws.data(), &witness_.discrete}, {0, flows});
        return plant_.evaluate(temperatures(), later, witness_.discrete) == plant::Verdict::proven;
    }

private:
    plant::Passage pass(const plant::State& entry, const Law& law, const timeline::Ending& ending) const {
        const std::vector<Law> laws(timeline_.zones.size(), law);
        plant::Drive drive{laws.data(), &witness_.discrete};
        drive.band = plant::band_of(ending);
        return plant_.pass(entry, drive, ending);
    }
    /// What the rule asks of temperatures alone.
    timeline::Condition temperatures() const {
        timeline::Condition asked;
        for (const timeline::Term& term : instance_.require.terms) {
            if (term.kind != timeline::Term::Kind::compare ||
                term.left.kind != timeline::SignalKind::temperature)
                continue;
            asked.terms.push_back(term);
            break;
        }
        return asked;
    }

    const timeline::Timeline& timeline_;
    const plant::Plant& plant_;
    const Instance& instance_;
    const Witness& witness_;
    double from_ = 0;
};

} // namespace

std::string hotter(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline,
                   const plant::Plant& plant, const Instance& instance, const Witness& witness) {
    if (witness.span < timeline.spans.size()) {
        // All values of a range go the same way (`elaborate::join`), so the lowest tell it.
        const Law* laws = timeline.laws_of(witness.span);
        for (std::size_t z = 0; z < timeline.zones.size(); ++z)
            if (laws[z].kind == LawKind::off || laws[z].to < laws[z].from) return {};
    }
    double most = rig.furnace.range.hi();
    if (rig.tube.material != check::none && model.materials[rig.tube.material].limit.given)
        most = std::min(most, model.materials[rig.tube.material].limit.lo());
    const Hold hold(timeline, plant, instance, witness);
    const std::string settled =
        fmt::format("dwell {} within {}", to_text(settles, Kind::time), to_text(band, Kind::difference));
    if (hold.enough(hold.from())) return "hold inside a soak band before the valve opens:  " + settled;
    const double first =
        std::floor((std::max(hold.from(), hold.asked()) - physics::zero_celsius) / step) * step +
        physics::zero_celsius;
    for (double i = 1; i <= most_steps && first + i * step <= most; ++i)
        if (hold.enough(first + i * step))
            return fmt::format(
                "heat further, and hold inside a soak band, before the valve opens:  ramp to {} at {}  "
                "and  {}",
                to_text(first + i * step, Kind::temperature), to_text(rate, Kind::rate), settled);
    return {};
}

} // namespace athanor::prove
