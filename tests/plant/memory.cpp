// Remembered passages against those of a plant that has nothing to remember.
#include "tests/plant/rigs.hpp"

#include <doctest/doctest.h>

using namespace bench;
using timeline::Comparison;

namespace {

/// The same passage from two entries that differ in what was counted before; the second time it is remembered.
void check_counts(const timeline::State& gas, const timeline::Ending& ending) {
    Bench b, other;
    for (Bench* bench : {&b, &other})
        bench->until({timeline::SignalKind::swept, timeline::none}, Comparison::greater, 20);
    plant::Plant& p = b.build();
    plant::Plant& fresh = other.build();
    const timeline::Law law = hold(p.start().zones[0].setpoint);
    plant::State first = p.start(), second = first;
    first.swept = {3, 5};
    second.swept = {7, 11};
    second.elapsed = {100, 200};
    const plant::Passage before = p.pass(first, {&law, &gas}, ending);
    const plant::Passage remembered = p.pass(second, {&law, &gas}, ending);
    const plant::Passage computed = fresh.pass(second, {&law, &gas}, ending);
    CHECK(before.reachable);
    CHECK(remembered.duration == computed.duration);
    CHECK(remembered.exit.swept == computed.exit.swept);
    CHECK(remembered.exit.elapsed == computed.exit.elapsed);
    CHECK(remembered.exit.pressure == computed.exit.pressure);
    for (std::size_t i = 0; i < 5; ++i) CHECK(remembered.exit.fraction[i] == computed.exit.fraction[i]);
}

} // namespace

TEST_CASE("a clock that stands still outside a band, or a range of set-points, is another question") {
    Bench b, other;
    plant::Plant& p = b.build();
    plant::Plant& fresh = other.build();
    const double room = p.start().zones[0].setpoint;
    // Faster than the furnace: the clock of the line stands still for long.
    const timeline::Law law = ramp(room, room + 600, 1), higher = ramp(room, room + 800, 1);
    const timeline::State gas = Bench::closed();
    const timeline::Ending ending = fixed(600);
    const plant::Passage plain = p.pass(p.start(), {&law, &gas}, ending);
    const plant::Drive slowed{&law, &gas, nullptr, 5}, range{&law, &gas, &higher};
    for (const plant::Drive& drive : {slowed, range}) {
        const plant::Passage asked = p.pass(p.start(), drive, ending);
        const plant::Passage computed = fresh.pass(fresh.start(), drive, ending);
        CHECK(asked.exit.zones[0].control == computed.exit.zones[0].control);
        CHECK(asked.exit.zones[0].setpoints == computed.exit.zones[0].setpoints);
        CHECK_FALSE(asked.exit.zones[0].setpoints == plain.exit.zones[0].setpoints);
    }
}

TEST_CASE("a remembered passage counts on from its own entry") {
    SUBCASE("volumes are added") {
        check_counts(Bench::flowing(Bench::at_meter(1.5)), fixed(600));
    }
    SUBCASE("air may be let in") {
        check_counts(Bench::closed(), fixed(600));
    }
    SUBCASE("the tube is open") {
        timeline::State open = Bench::closed();
        open.tube_open = true;
        check_counts(open, fixed(600));
    }
    SUBCASE("a wait that asks for them is another question") {
        timeline::Ending ending;
        ending.kind = timeline::EndingKind::certain;
        ending.condition = 0;
        check_counts(Bench::flowing(Bench::at_meter(1.5)), ending);
    }
}
