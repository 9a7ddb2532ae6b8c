#pragma once
#include <string>

/// A rig that reads without a finding; tests change one line of it.
struct RigText {
    std::string furnace =
        "range 30 degC to 1100 degC ; heated_length 500 mm ; power 3 kW ; heat_up 50 min to 1000 degC ; "
        "holding_power 1 kW at 1000 degC ; cool_down 1000 degC to 200 degC in 5 h";
    std::string tube = "tube { material fused_quartz ; inner_diameter 60 mm ; wall 3 mm ; length 1200 mm }";
    std::string seals = "seals gas_tight { rated 200 mbar gauge } ; leak_rate 1e-4 mbar*L/s";
    std::string sensor = "sensor type_k class 1";
    std::string argon = "line argon { gas argon ; output 1 ; de_energised open ; meter hand ; flow 0.1 slm to "
                        "2 slm ; supply 100 mbar gauge }";
    std::string exhaust = "exhaust open";
    std::string more;

    /// One property group a line, so that a message's line says which: 2 furnace, 3 tube, 4 seals, 5 sensor, 6
    /// argon, 7 exhaust, 8 more.
    std::string text(const std::string& name = "r") const {
        return "rig " + name + " {\nfurnace { " + furnace + " }\n" + tube + "\n" + seals + "\n" + sensor +
               "\n" + argon + "\n" + exhaust + "\n" + more + "\n}\n";
    }
};

inline RigText rig_with(const std::string& more) {
    RigText rig;
    rig.more = more;
    return rig;
}
