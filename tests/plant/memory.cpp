// Remembered passages against those of a plant that has nothing to remember.
#include "compiler/plant/memory.hpp"
#include "tests/plant/rigs.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <string>

using namespace bench;
using timeline::Comparison;

namespace {

bool same(const plant::ZoneState& a, const plant::ZoneState& b) {
    return a.setpoint == b.setpoint && a.control == b.control && a.load == b.load &&
           a.setpoints == b.setpoints && a.comes_down == b.comes_down && a.comes_up == b.comes_up &&
           a.untouched == b.untouched && a.unread.below == b.unread.below && a.unread.above == b.unread.above;
}

/// What differs between two states beside what adds up (`swept`, `elapsed`, `burning`); empty: no number does.
std::string difference(const plant::State& a, const plant::State& b) {
    std::string text;
    const auto compare = [&](const char* what, bool equal) {
        if (!equal) text += std::string(text.empty() ? "" : ", ") + what;
    };
    bool zones = a.zones.size() == b.zones.size();
    for (std::size_t z = 0; z < a.zones.size() && zones; ++z) zones = same(a.zones[z], b.zones[z]);
    compare("zones", zones);
    const auto gas = [](const plant::Composition& one, const plant::Composition& other) {
        return std::equal(one.begin(), one.end(), other.begin(), other.end());
    };
    compare("fraction", gas(a.fraction, b.fraction));
    compare("pore", gas(a.pore, b.pore));
    compare("pressure", a.pressure == b.pressure);
    compare("inflow", a.inflow == b.inflow);
    compare("drawn_in", a.drawn_in == b.drawn_in);
    compare("taken", a.taken == b.taken);
    return text;
}

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
    CHECK(remembered.reachable == computed.reachable);
    CHECK(remembered.exit.swept == computed.exit.swept);
    CHECK(remembered.exit.elapsed == computed.exit.elapsed);
    CHECK(remembered.exit.burning == computed.exit.burning);
    CHECK(difference(remembered.exit, computed.exit) == "");
    CHECK(before.exit.pore.size() == 5);

    // Over the whole of it, too, where its length is fixed.
    REQUIRE(remembered.remembered != nullptr);
    const plant::Drive drive{&law, &gas};
    plant::KeptState whole;
    static_cast<plant::Always&>(whole) = second;
    CHECK(p.whole(*remembered.remembered, drive, whole) == (ending.kind == timeline::EndingKind::fixed));
    if (ending.kind == timeline::EndingKind::fixed) {
        const plant::State over = fresh.during(second, drive, {0, ending.duration});
        CHECK(whole.swept == over.swept);
        CHECK(whole.elapsed == over.elapsed);
        CHECK(whole.burning == over.burning);
        CHECK(difference(whole, over) == "");
    }

    // The memory itself, with the plant's answer: whether it finds it, and gives back all of it.
    plant::Memory memory(1, 5);
    CHECK(memory.find(first, drive, ending) == nullptr);
    const plant::Sweep sweep{true, false, {1, 2}}, other_sweep{false, true, {3, 4}};
    const plant::Remembered* kept = memory.keep(first, before, sweep, &first, other_sweep);
    REQUIRE(kept != nullptr);
    CHECK(memory.find(second, drive, ending) ==
          (ending.kind == timeline::EndingKind::certain ? nullptr : kept));
    REQUIRE(memory.find(first, drive, ending) == kept);
    const auto check_state = [&](const plant::Bounds& bounds, const plant::State& state, plant::Sweep swept) {
        plant::KeptState view;
        memory.read(bounds, view);
        CHECK(difference(view, state) == "");
        plant::State read;
        memory.read(bounds, read);
        CHECK(difference(read, state) == "");
        CHECK(bounds.sweep.keeps_lo == swept.keeps_lo);
        CHECK(bounds.sweep.keeps_hi == swept.keeps_hi);
        CHECK(bounds.sweep.gained == swept.gained);
    };
    CHECK(kept->duration == before.duration);
    check_state(*kept->exit, before.exit, sweep);
    REQUIRE(kept->whole != nullptr);
    check_state(*kept->whole, first, other_sweep);
    timeline::State other_flow = gas;
    other_flow.flows[0] += 1e-9;
    CHECK(memory.find(first, {&law, &other_flow}, ending) == nullptr);

    // A question that begins as that passage ended is known without its entry, and no other is.
    const plant::Remembered* next = memory.keep(before.exit, before, sweep, nullptr, {});
    REQUIRE(memory.find(first, drive, ending) == kept);
    CHECK(memory.behind(*next, {&law, &other_flow}, ending) == nullptr);
    CHECK(memory.behind(*kept, drive, ending) == nullptr);
    const bool waits = ending.kind == timeline::EndingKind::certain; // the condition asks for what adds up
    CHECK(memory.behind(*kept, {&law, &other_flow}, ending) == (waits ? nullptr : next));
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
        CHECK(difference(asked.exit, computed.exit) == "");
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

TEST_CASE("questions are found in any order") {
    Bench b;
    const plant::State entry = b.build().start();
    const timeline::Law law = hold(entry.zones[0].setpoint);
    plant::Memory memory(1, entry.fraction.size());
    plant::Passage passage;
    passage.exit = entry;
    // More than a block of its numbers holds, and than it starts with buckets for; some are longer than others.
    constexpr int many = 400;
    const auto find = [&](int i) {
        timeline::State gas = Bench::closed();
        if (i % 3 == 1) gas.between.assign(gas.flows.size(), {0, 1e-4});
        timeline::Ending ending = fixed(i);
        if (i % 5 == 2) ending.kind = timeline::EndingKind::certain;
        return memory.find(entry, {&law, &gas}, ending);
    };
    const auto remembered = [&](int i) {
        const plant::Remembered* found = find(i);
        return found != nullptr && found->duration == Interval(i);
    };
    for (int i = 0; i < many; ++i) {
        REQUIRE(find(i) == nullptr);
        passage.duration = i;
        memory.keep(entry, passage, {}, nullptr, {});
    }
    for (int i = 0; i < many; ++i) CHECK(remembered(i));
    for (int i = many; i-- > 0;) CHECK(remembered(i));
    // One that is new, or not kept, between those that come in their order.
    for (int i = 0; i < many; ++i) {
        CHECK(remembered(i));
        if (i % 50 == 0) CHECK(find(many + i) == nullptr);
    }
}
