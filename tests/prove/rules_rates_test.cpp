// What rounding makes of a ramp, against tube and furnace.
#include "tests/prove/rules.hpp"

using namespace athanor;
using namespace athanor::prove::test;

namespace {

/// Proven again with the first ramp's set-point moving `times` as fast, as a coarse controller would key it.
std::string rounded(const std::string& ramp, double times) {
    auto c = on("", "open argon at 1 slm\n" + ramp);
    REQUIRE_MESSAGE(c->errors() == "", c->all());
    timeline::Timeline keyed = *c->done.timeline;
    for (std::size_t i = 0; i < keyed.spans.size(); ++i) {
        timeline::Law& law = keyed.laws[i];
        if (law.kind != timeline::LawKind::line) continue;
        law.rate *= times;
        keyed.spans[i].duration = {keyed.spans[i].duration.lo / times, keyed.spans[i].duration.hi / times};
        keyed.spans[i].ending.duration /= times;
        break;
    }
    Diagnostics out;
    prove::prove(c->model, c->rig(), keyed, *c->done.plant, c->files, out);
    std::string codes;
    for (const Diagnostic& d : out.all())
        if (d.severity == Severity::error) {
            codes += (codes.empty() ? "" : " ") + std::string(name(d.code));
            CHECK_FALSE(d.causes.empty());
            CHECK_FALSE(d.remedies.empty());
        }
    return codes;
}

} // namespace

TEST_CASE("a ramp that rounding makes faster than tube or furnace is refused") {
    // Fused quartz of 55 mm, 20 K/min: common practice, no source, as recipes/standard/materials.ath has it.
    CHECK(rounded("ramp to 300 degC at 18 K/min\n", 1) == "");
    CHECK(rounded("ramp to 300 degC at 18 K/min\n", 20.0 / 18) == "");
    CHECK(rounded("ramp to 300 degC at 18 K/min\n", 20.1 / 18) == "tube_shock");
    // Downwards: no furnace of this kind falls from 300 to 100 degC at 10 K/min.
    CHECK(rounded("ramp to 300 degC at 5 K/min\n", 1) == "");
    auto c = on("", "open argon at 1 slm\nramp to 300 degC at 5 K/min\ncool to 200 degC at 0.2 K/min\n");
    REQUIRE_MESSAGE(c->errors() == "", c->all());
    timeline::Timeline keyed = *c->done.timeline;
    for (timeline::Law& law : keyed.laws)
        if (law.rate < 0) law.rate = -10.0 / 60;
    Diagnostics out;
    prove::prove(c->model, c->rig(), keyed, *c->done.plant, c->files, out);
    CHECK(out.has(Code::cooling_beyond_furnace));
}
