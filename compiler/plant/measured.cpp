#include "compiler/plant/measured.hpp"

#include <algorithm>
#include <vector>

namespace athanor::plant {

State exit_from_measured(const Plant& plant, const State& entry, Drive drive, const timeline::Ending& ending,
                         Interval duration) {
    State exit = plant.during(entry, drive, duration);
    if (ending.kind != timeline::EndingKind::band) return exit;
    // It ends in its band wherever it began: what the zones may be is that of the nearest start, of the
    // farthest and of the laws' own.
    const Passage own = plant.pass(entry, drive, ending);
    State ended = own.exit;
    const std::size_t zones = entry.zones.size();
    for (const double longer : {duration.lo - own.duration.lo, duration.hi - own.duration.hi}) { // s
        std::vector<timeline::Law> laws(drive.laws, drive.laws + zones);
        for (timeline::Law& law : laws)
            if (law.kind == timeline::LawKind::line) law.from -= law.rate * longer;
        timeline::Ending other = ending;
        other.duration = std::max(0.0, ending.duration + longer);
        Drive shifted = drive;
        shifted.laws = laws.data();
        widen(ended, plant.pass(entry, shifted, other).exit);
    }
    exit.zones = ended.zones;
    return exit;
}

} // namespace athanor::plant
