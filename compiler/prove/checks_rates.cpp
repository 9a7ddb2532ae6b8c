// What rounding makes of a ramp: tube and furnace judge the set-point that is really keyed. The recipe's own
// ramps were judged when they were elaborated, where the remedy is.
#include "compiler/plant/allowance.hpp"
#include "compiler/prove/checks.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

namespace athanor::prove {
namespace {

/// An end may be rounded by 1 K: another row of the material begins behind that.
constexpr double rounded = 1;

/// A set-point that moves one way. Over a range of parameters the longest way that it may take, and its
/// fastest: between two good ends of the range there may be a row of the material that only values between them
/// meet.
struct Line {
    double from = 0, to = 0, rate = 0;
    bool up = false;
};

/// Nothing where no value of the range moves it that way.
std::optional<Line> line_of(const Laws& laws, bool up) {
    const auto rate_of = [&](const timeline::Law& law) {
        const bool moves = law.kind == timeline::LawKind::line && (up ? law.to > law.from : law.to < law.from);
        return moves ? std::abs(law.rate) : 0;
    };
    const double rate = std::max(rate_of(laws.least), rate_of(laws.most));
    if (!(rate > 0)) return std::nullopt;
    const double from = up ? laws.from().lo : laws.from().hi, to = up ? laws.to().hi : laws.to().lo;
    const double inset = std::min(rounded, std::abs(to - from) / 2);
    return Line{from + (up ? inset : -inset), to - (up ? inset : -inset), rate, up};
}

class Rates {
public:
    explicit Rates(Scene& scene)
        : s_(scene), anywhere_(plant::tube_allowance(scene.model, scene.rig, 0, infinity)),
          cause_(scene.timeline.laws_most.empty() ? "the ramp was rounded to what the controller can be set to"
                                                  : "some value of its parameters brings it there"),
          remedy_(scene.timeline.laws_most.empty() ? "a slower ramp, or a controller with finer steps"
                                                   : "a slower ramp, or a narrower range") {}

    void judge() {
        const timeline::Timeline& timeline = s_.timeline;
        const std::size_t zones = timeline.zones.size();
        for (std::size_t i = 0; i < s_.spans(); ++i)
            for (std::size_t z = 0; z < zones; ++z) {
                const Laws laws = laws_of(timeline, i, z);
                if (laws.least.kind != timeline::LawKind::line && laws.most.kind != timeline::LawKind::line)
                    continue;
                for (const bool up : {true, false})
                    if (const std::optional<Line> line = line_of(laws, up);
                        line && (!tube_stands(i, *line) || !furnace_follows(i, *line)))
                        return;
            }
    }

private:
    bool tube_stands(std::size_t span, const Line& line) {
        if (line.rate <= anywhere_) return true;
        const check::Figure* row = nullptr;
        const double tube = plant::tube_allowance(s_.model, s_.rig, line.from, line.to, &row);
        if (line.rate <= tube * (1 + 1e-9)) return true;
        if (!line.up && tube > s_.plant.certain_cooling_rate(line.from, line.to)) return true;
        s_.out
            .error(Code::tube_shock, s_.source(span),
                   fmt::format("the set-point moves at {} and the tube allows {}",
                               to_text(line.rate, Kind::rate), to_text(tube, Kind::rate)))
            .with_label(fmt::format("at {} of the run", to_clock(s_.walk.at_s(span))))
            .cause(fmt::format("the rate is declared at {}; {}", s_.place(row->source), cause_))
            .remedy(std::string(remedy_));
        return false;
    }

    bool furnace_follows(std::size_t span, const Line& line) {
        const plant::Capacity first = s_.plant.capacity(line.from), last = s_.plant.capacity(line.to);
        const double best =
            line.up ? std::min(first.heating.hi, last.heating.hi) : std::min(first.cooling.hi, last.cooling.hi);
        if (line.rate <= best * (1 + 1e-9)) return true;
        s_.out
            .error(line.up ? Code::rate_beyond_furnace : Code::cooling_beyond_furnace, s_.source(span),
                   fmt::format("the set-point moves at {}, and no furnace inside the stated data follows "
                               "faster than {}",
                               to_text(line.rate, Kind::rate), to_text(std::max(0.0, best), Kind::rate)))
            .with_label(fmt::format("at {} of the run", to_clock(s_.walk.at_s(span))))
            .cause(std::string(cause_))
            .remedy(std::string(remedy_));
        return false;
    }

    Scene& s_;
    const double anywhere_; // K/s that the tube stands at every temperature
    const std::string_view cause_, remedy_;
};

} // namespace

void check_rates(Scene& scene) {
    Rates(scene).judge();
}

} // namespace athanor::prove
