// What changes in the process between two versions of a recipe, and what does not.
#include "compiler/review/review.hpp"
#include "tests/prove/support.hpp"

#include <doctest/doctest.h>

using namespace athanor;
using review::Change;

namespace {

/// The rig of these tests: one controlled argon line, hydrogen beside it.
const std::string_view rig = R"(rig bench {
    ambient 18 degC to 28 degC, 980 mbar to 1030 mbar
    furnace {
        range 30 degC to 1150 degC ; heated_length 300 mm ; power 2.0 kW
        heat_up 40 min to 1000 degC ; holding_power 0.8 kW ± 10 % at 1000 degC
        cool_down 1000 degC to 200 degC in 3 h ± 10 % ; zones centre
    }
    tube { material fused_quartz ; inner_diameter 50 mm ; wall 2.5 mm ; length 900 mm }
    ends radiation_shields { count 4 }
    seals gas_tight { rated 200 mbar gauge ; cooled no }
    leak_rate 1e-4 mbar*L/s
    sensor type_k class 1
    line argon {
        gas argon ; output 1 ; de_energised open
        meter controlled ; flow 0.1 slm to 4 slm ; accuracy 2 % of reading ; supply 150 mbar gauge
    }
    line oxygen {
        gas oxygen ; output 2 ; de_energised closed
        meter controlled ; flow 0.1 slm to 1 slm ; accuracy 2 % of reading ; supply 150 mbar gauge
    }
    exhaust afterburner { output 3 ; into extraction_hood { backup_power yes } }
    relief 180 mbar gauge
}
)";

std::string_view sign(Change::Kind kind) {
    return kind == Change::Kind::added ? "+ " : kind == Change::Kind::removed ? "- " : "~ ";
}

} // namespace
