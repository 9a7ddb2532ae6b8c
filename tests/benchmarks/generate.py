#!/usr/bin/env python3
"""Writes one process of N steps twice: as a recipe and as the equivalent JSON, for comparing whole programs.
A step is a ramp, a dwell and a gas flow. Deterministic; every recipe is one that the rig below can run."""
import sys

RIG = """gas argon_clean = 2 ppm oxygen + rest argon

rig bench "Steel-cased tube furnace with controlled meters" {
    ambient 18 degC to 28 degC, 980 mbar to 1030 mbar
    furnace {
        range         30 degC to 1200 degC
        heated_length 600 mm
        power         3.0 kW
        heat_up       50 min to 1100 degC
        holding_power 1.2 kW ± 10 % at 1100 degC
        cool_down     1100 degC to 200 degC in 5 h ± 15 %
        zones         centre
    }
    tube { material fused_quartz ; inner_diameter 60 mm ; wall 3 mm ; length 1200 mm }
    ends insulation_plugs { length 150 mm ; porosity 85 % ; air_release 1 min to 3 min }
    seals gas_tight { rated 200 mbar gauge ; cooled no }
    leak_rate 1e-4 mbar*L/s
    sensor type_k class 1
    line argon {
        gas argon_clean ; output 1 ; de_energised open ; meter controlled, channel 1 ; flow 10 sccm to 2000 sccm
        accuracy 2 % of reading ; supply 150 mbar gauge
    }
    relief 180 mbar gauge
}
controller large "As many segments as asked for" {
    programs 1 ; segments 1000000 ; linking no ; loops none ; zones 1
    setpoint 0 degC to 1200 degC by 0.1 K
    ramps by rate 0.01 K/min to 99.9 K/min by 0.01 K/min
    dwells 0 s to 99 h 59 min by 1 s
    outputs 4 ; thresholds 0 ; channels 1 ; soak_band none ; operator_wait no ; starts_from measured
    segment_form ramp_or_dwell ; at_end off ; after_power_failure stop
}
"""


def steps(n):
    state = 12345

    def random(limit):
        nonlocal state
        state = (state * 6364136223846793005 + 1442695040888963407) & 0xFFFFFFFFFFFFFFFF
        return (state >> 33) % limit

    at = 500
    for _ in range(n):
        to = 500 + random(400)
        if to == at:
            to += 1
        rate = 1 + random(3) if to > at else 1
        yield at < to, to, rate, 1 + random(240), 200 + random(700)
        at = to


def hydrogen(n):
    """The same in hydrogen: at each instant a failure of power is judged as well. A step is a ramp and a dwell."""
    rig = RIG.replace("relief 180 mbar gauge", """line hydrogen {
        gas hydrogen ; output 2 ; de_energised closed ; shut_off two ; meter controlled, channel 2 ; flow 10 sccm to 1000 sccm
        accuracy 1 % of full_scale ; supply 120 mbar gauge
    }
    exhaust afterburner { output 3 ; pilot yes ; into extraction_hood { backup_power yes } }
    relief 180 mbar gauge
    interlock hydrogen is open and temperature < 785 degC closes hydrogen, opens argon""").replace("channels 1 ;", "channels 2 ;")
    rig = rig.replace("de_energised open ;", "de_energised open, 1.8 slm to 2 slm ;")
    lines = [rig, "recipe steps on bench for large {\n    purge argon at 2000 sccm until oxygen < 0.1 % and swept > 6 volumes\n",
             "    ramp to 880 degC at 5 K/min\n    light burner\n    dwell 1 h\n    open hydrogen at 400 sccm\n    close argon\n"]
    for i, (_, _, _, dwell, _) in enumerate(steps(n)):
        to = 890 + 10 * (i % 2)
        lines.append(f"    ramp to {to} degC at {'2' if i % 2 or i == 0 else '0.2'} K/min\n    dwell {1 + dwell % 5} min\n")
    lines.append("    open argon at 2000 sccm\n    close hydrogen\n    dwell until flammability < 20 %\n    shut burner\n"
                 "    cool to 80 degC\n    close all\n}\n")
    return "".join(lines)


def main():
    n, folder = int(sys.argv[1]), sys.argv[2]
    with open(f"{folder}/hydrogen_{n}.ath", "w") as recipe:
        recipe.write(hydrogen(n))
    with open(f"{folder}/steps_{n}.ath", "w") as recipe, open(f"{folder}/steps_{n}.json", "w") as data:
        recipe.write(RIG + "recipe steps on bench for large {\n    purge argon at 1000 sccm until oxygen < 1 %\n    ramp to 500 degC at 5 K/min\n")
        data.write('{"recipe":"steps","tube":{"volume":"3.4 L"},"steps":[\n')
        for i, (up, to, rate, dwell, flow) in enumerate(steps(n)):
            recipe.write(f"    {'ramp' if up else 'cool'} to {to} degC at {rate} K/min\n    dwell {dwell} min\n    set argon to {flow} sccm\n")
            data.write((",\n" if i else "") + f'{{"id":"s{i}","ramp":{{"to":"{to} degC","rate":"{rate} K/min"}},'
                       f'"dwell":"{dwell} min","gas":{{"species":"argon","flow":"{flow} sccm"}}}}')
        recipe.write("    cool to 80 degC\n    close all\n}\n")
        data.write("\n]}\n")


main()
