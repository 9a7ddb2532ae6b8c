// Slips of statements, word for word: what is said, what is offered, and what is written where that is sure.
#include "tests/grammar/slips.hpp"

namespace athanor::grammar_test {

TEST_CASE("statements in the words and forms of everyday speech and of other languages") {
    for (const Row& row : {
             Row{"ramp to 700 deg C at 5 K/min", "`deg C` is one unit, and holds no blank", "write `700 degC`",
                 "ramp to 700 degC at 5 K/min"},
             Row{"ramp to 700 degrees C at 5 K/min", "`degrees C` is one unit, and holds no blank",
                 "write `700 degC`", "ramp to 700 degC at 5 K/min"},
             Row{"ramp to 700 deg. C at 5 K/min", "`deg. C` is one unit, and holds no blank",
                 "write `700 degC`", "ramp to 700 degC at 5 K/min"},
             Row{"ramp to 700 degC at 5 deg C/min", "`deg C/min` is one unit, and holds no blank",
                 "write `5 degC/min`", "ramp to 700 degC at 5 degC/min"},
             Row{"ramp(700 degC, 5 K/min)", "`ramp` is a word of the language, and takes no parentheses",
                 "write `ramp to 700 degC at 5 K/min`", "ramp to 700 degC at 5 K/min"},
             Row{"ramp to 700 degC at 5 K/min in argon",
                 "`in` has no place in `ramp`: what gas there is, statements of their own say",
                 "write `open argon at FLOW` on a line before it", ""},
             Row{"cool to 70 degC in air",
                 "`in air` has no place in `cool`: what gas there is, statements of their own say",
                 "leave `in air` out: what is open, or was opened to the room, stays so", ""},
             Row{"ramp zone 1 to 700 degC", "a zone is called by its name, and has no number",
                 "write the name that the rig gives it, such as `front`, in place of `zone 1`", ""},
             Row{"ramp to 700 degC as fast as possible",
                 "a ramp has a rate or a time; as fast as the furnace can is `heat to`",
                 "write `heat to 700 degC`", "heat to 700 degC"},
             Row{"switch off argon", "a line is shut with `close`", "write `close argon`", "close argon"},
             Row{"set flow argon 2.5 L/min", "a line, or its gas, is named at once behind `set`",
                 "leave `flow` out", "set argon 2.5 L/min"},
             Row{"step 3: dwell 30 min", "steps have no numbers: they run in the order in which they stand",
                 "leave `step 3:` out", "dwell 30 min"},
             Row{"dwell 30 min ; soak", "`soak` begins no statement: a set-point is held with `dwell`",
                 "write `dwell TIME`", ""},
             Row{"cool to RT",
                 "the room's temperature is no target: a furnace that cools by itself comes near it and never "
                 "there",
                 "write the temperature at which the run may end, such as `cool to 50 degC`", ""},
             Row{"beep", "`beep` begins no statement: a person reads a `note`, or is waited for",
                 "write `note \"…\"`, or `wait for operator \"…\"`", ""},
             Row{"ramp to 700 degC, 5 K/min", "`at` stands before `5 K/min`, no comma", "write `at 5 K/min`",
                 "ramp to 700 degC at 5 K/min"},
             Row{"dwell at 700 degC for 30 min",
                 "a set-point is held where it stands: `dwell` takes no temperature",
                 "write `dwell 30 min`, behind a ramp to 700 degC", ""},
             Row{"stop",
                 "`stop` belongs to the pump; a run begins with its first step and ends with the `}` of its "
                 "recipe",
                 "leave `stop` out, or write `stop pump`", ""},
             Row{"shut argon", "only the burner is shut; a gas line is shut with `close`",
                 "write `close argon`", ""},
             Row{"purge with argon", "a line, or its gas, is named at once behind `purge`", "leave `with` out",
                 "purge argon"},
             Row{"open gas argon", "a line, or its gas, is named at once behind `open`", "leave `gas` out",
                 "open argon"},
             Row{"backfill with argon", "a line, or its gas, is named at once behind `backfill`",
                 "leave `with` out", ""},
             Row{"anneal at 700 degC for 30 min",
                 "`anneal` begins no statement: a temperature is reached with `ramp`, and held with `dwell`",
                 "write `ramp to 700 degC at RATE`, and `dwell 30 min` on the line behind it", ""},
             Row{"end", "`end` begins no statement: a run ends with the `}` of its recipe", "leave `end` out",
                 ""},
             Row{"done", "`done` begins no statement: a run ends with the `}` of its recipe",
                 "leave `done` out", ""},
             Row{"off",
                 "`off` begins no statement: a line is shut with `close`, and the heater is off while the tube "
                 "cools by itself",
                 "write `close LINE`, or `cool to TARGET`", ""},
             Row{"alarm", "`alarm` begins no statement: a person reads a `note`, or is waited for",
                 "write `note \"…\"`, or `wait for operator \"…\"`", ""},
             Row{"open argon = 2.5 L/min", "a flow follows the word `at`, no `=`", "write `at`",
                 "open argon at 2.5 L/min"},
             Row{"require oxygen < 0,002 %", "`0,002` is written with a comma; a decimal number takes a point",
                 "write `0.002`", "require oxygen < 0.002 %"},
             Row{"dwell 30'", "`'` is no unit here: minutes are written `min`, and seconds `s`",
                 "where minutes are meant, write `30 min`", ""},
             Row{"dwell 1'800 s", "`1'800`: the digits of one number stand together", "write `1800`",
                 "dwell 1800 s"},
             Row{"set temperature 700 degC",
                 "`set` changes the flow of a line; the set-point is moved with `ramp`, `heat` or `step`",
                 "write `ramp to 700 degC at RATE`, or `step to 700 degC` at once", ""},
             Row{"open argon at 2.5 l / min", "`l / min` is one unit, and holds no blank", "write `2.5 L/min`",
                 "open argon at 2.5 L/min"},
             Row{"dwell 1h30", "unknown unit `h30`", "where it is meant so, write `1 h 30 min`", ""},
             Row{"dwell 1 h 30", "`30` behind a time has no unit", "where it is meant so, write `1 h 30 min`",
                 ""},
             Row{"dwell 1h 30m", "`m` is the metre; a minute is `min`", "write `1h 30 min`", "dwell 1h 30 min"},
             Row{"dwell ½ h", "a fraction is written with a decimal point", "write `0.5`", "dwell 0.5 h"},
             Row{"ramp from 23 degC to 700 degC at 5 K/min",
                 "`ramp` begins at the present set-point, and is told its target only",
                 "write `ramp to 700 degC at 5 K/min`", ""},
             Row{"ramp at 5 K/min to 700 degC", "`5 K/min` stands before the target",
                 "write `ramp to 700 degC at 5 K/min`", ""},
             Row{"ramp to 700 degC at 5 K·min⁻¹", "unknown unit `K·min⁻¹`", "write `5 K/min`",
                 "ramp to 700 degC at 5 K/min"},
             Row{"ramp to 700 degC at 5 K/min, dwell 30 min",
                 "`,` joins no steps: a statement ends with its line",
                 "write `dwell 30 min` on a line of its own, or `;` before it",
                 "ramp to 700 degC at 5 K/min ; dwell 30 min"},
             Row{"ramp to 700 degC at 5 K/min and dwell 30 min",
                 "`and` joins no steps: a statement ends with its line",
                 "write `dwell 30 min` on a line of its own, or `;` before it",
                 "ramp to 700 degC at 5 K/min ; dwell 30 min"},
             Row{"ramp to 700 degC at 5 K/min then dwell 30 min",
                 "`then` joins no steps: a statement ends with its line",
                 "write `dwell 30 min` on a line of its own, or `;` before it",
                 "ramp to 700 degC at 5 K/min ; dwell 30 min"},
             Row{"cool", "`cool` has no target",
                 "write the temperature at which the run may end, such as `cool to 50 degC`", ""},
             Row{"cool down", "`cool down` has no target",
                 "write the temperature at which the run may end, such as `cool to 50 degC`", ""},
             Row{"argon on", "`argon` begins no statement: a line is opened with `open` and shut with `close`",
                 "write `open argon at FLOW`", ""},
             Row{"argon off", "`argon` begins no statement: a line is opened with `open` and shut with `close`",
                 "write `close argon`", ""},
             Row{"vacuum on", "`vacuum` begins no statement: a tube is pumped down with `evacuate`",
                 "write `evacuate to PRESSURE`", ""},
             Row{"vacuum to 1 mbar", "`vacuum to` begins no statement: a tube is pumped down with `evacuate`",
                 "write `evacuate to 1 mbar`", "evacuate to 1 mbar"},
             Row{"require oxygen below 20 ppm", "two values are compared with a sign", "write `<`",
                 "require oxygen < 20 ppm"},
             Row{"require oxygen < 20 ppm && temperature < 900 degC", "two conditions are joined with a word",
                 "write `and`", "require oxygen < 20 ppm and temperature < 900 degC"},
             Row{"require oxygen < 20 ppm || temperature < 900 degC", "two conditions are joined with a word",
                 "write `or`", "require oxygen < 20 ppm or temperature < 900 degC"},
             Row{"setpoint 700 degC",
                 "`setpoint` begins no statement: the set-point is moved with `ramp`, `heat`, `cool` or `step`",
                 "write `ramp to 700 degC at RATE`, or `step to 700 degC` at once", ""},
             Row{"go to 700 degC",
                 "`go to` begins no statement: the set-point is moved with `ramp`, `heat`, `cool` or `step`",
                 "write `ramp to 700 degC at RATE`, or `heat to 700 degC` as fast as the furnace can", ""},
             Row{"raise to 700 degC",
                 "`raise to` begins no statement: the set-point is moved with `ramp`, `heat`, `cool` or `step`",
                 "write `ramp to 700 degC at RATE`, or `heat to 700 degC` as fast as the furnace can", ""},
             Row{"sleep 30 min", "`sleep` begins no statement: a set-point is held with `dwell`",
                 "write `dwell`", "dwell 30 min"},
             Row{"goto 3", "`goto` begins no statement: nothing jumps, and steps come again with `repeat`",
                 "write `repeat N times { … }`", ""},
             Row{"ignite burner", "`ignite` begins no statement: the burner is lit with `light burner`",
                 "write `light burner`", "light burner"},
             Row{"extinguish burner", "`extinguish` begins no statement: the burner is shut with `shut burner`",
                 "write `shut burner`", "shut burner"},
             Row{"require oxygen < 20 ppm when temperature > 300 degC",
                 "when a condition must hold is said with `while`", "write `while`",
                 "require oxygen < 20 ppm while temperature > 300 degC"},
             Row{"dwell 30 min /* soak */", "a comment begins with `#` and ends with its line",
                 "write `# soak`", "dwell 30 min # soak"},
             Row{"dwell /* x */ 30 min", "a comment begins with `#` and ends with its line",
                 "take the comment out of the line, or to its end, behind `#`", ""},
             Row{"ramp to 700 degrees Celsius at 5 degrees C per minute",
                 "`degrees Celsius` is one unit, and holds no blank", "write `700 degC`",
                 "ramp to 700 degC at 5 degrees C per minute"},
             Row{"open argon at 2.5 L / min", "`L / min` is one unit, and holds no blank", "write `2.5 L/min`",
                 "open argon at 2.5 L/min"},
             Row{"dwell 5 min30", "unknown unit `min30`", "where it is meant so, write `5 min 30 s`", ""},
             Row{"loop 3 {\nnote \"x\"\n}", "`loop` begins no statement: steps come again with `repeat`",
                 "write `repeat N times { … }`", "repeat 3 {\nnote \"x\"\n}"},
             Row{"shut down",
                 "`shut` belongs to the burner; a run begins with its first step and ends with the `}` of its "
                 "recipe",
                 "leave `shut down` out, or write `shut burner`", ""},
             Row{"turn off argon",
                 "`turn` begins no statement: a line is opened with `open` and shut with `close`",
                 "write `open LINE at FLOW`, or `close LINE`", ""},
             Row{"switch on argon at 2 slm", "a line is opened with `open`", "write `open argon at 2 slm`", ""},
             Row{"switch off pump", "the pump is stopped with `stop pump`", "write `stop pump`", "stop pump"},
             Row{"switch off heater", "the heater is off while the tube cools by itself",
                 "write `cool to TARGET`", ""},
             Row{"stop heating", "only the pump is stopped; a gas line is shut with `close`",
                 "the heater is off while the tube cools by itself: `cool to TARGET`", ""},
             Row{"start",
                 "`start` belongs to the pump; a run begins with its first step and ends with the `}` of its "
                 "recipe",
                 "leave `start` out, or write `start pump`", ""},
             Row{"ramp up", "`ramp up` has no target", "write `ramp to TARGET at RATE`", ""},
             Row{"heat up", "`heat up` has no target", "write `heat to TARGET`", ""},
             Row{"open valve argon at 2 slm", "a line, or its gas, is named at once behind `open`",
                 "leave `valve` out", "open argon at 2 slm"},
             Row{"purge using argon at 2 slm for 5 min", "a line, or its gas, is named at once behind `purge`",
                 "leave `using` out", "purge argon at 2 slm for 5 min"},
             Row{"hold at 700 degC for 30 min",
                 "a set-point is held where it stands: `dwell` takes no temperature",
                 "write `dwell 30 min`, behind a ramp to 700 degC", ""},
             Row{"hold 30 min at 700 degC", "a set-point is held where it stands: `dwell` takes no temperature",
                 "write `dwell 30 min`, behind a ramp to 700 degC", ""},
             Row{"dwell 30 min at 700 degC",
                 "a set-point is held where it stands: `dwell` takes no temperature",
                 "write `dwell 30 min`, behind a ramp to 700 degC", ""},
             Row{"soak", "`soak` begins no statement: a set-point is held with `dwell`", "write `dwell TIME`",
                 ""},
             Row{"segment 2: dwell 30 min", "steps have no numbers: they run in the order in which they stand",
                 "leave `segment 2:` out", "dwell 30 min"},
             Row{"1. ramp to 700 degC at 5 K/min",
                 "steps have no numbers: they run in the order in which they stand", "leave `1.` out",
                 "ramp to 700 degC at 5 K/min"},
             Row{"open(argon, 2.5 L/min)", "`open` is a word of the language, and takes no parentheses",
                 "write `open argon at 2.5 L/min`", "open argon at 2.5 L/min"},
             Row{"heat(700 degC)", "`heat` is a word of the language, and takes no parentheses",
                 "write `heat to 700 degC`", "heat to 700 degC"},
             Row{"ramp to 700 degC then", "a step ends with its line", "leave `then` out", "ramp to 700 degC"},
             Row{"ramp to 700 degC at 5 K/min, foo(3 h)", "`,` joins no steps: a statement ends with its line",
                 "write `foo(3 h)` on a line of its own, or `;` before it",
                 "ramp to 700 degC at 5 K/min ; foo(3 h)"},
             Row{"open argon, 2.5 L/min", "`at` stands before `2.5 L/min`, no comma", "write `at 2.5 L/min`",
                 "open argon at 2.5 L/min"},
             Row{"set argon = 2.5 L/min", "a flow follows the word `to`, no `=`", "write `to`",
                 "set argon to 2.5 L/min"},
             Row{"switch to argon = 2.5 L/min", "a flow follows the word `at`, no `=`", "write `at`",
                 "switch to argon at 2.5 L/min"},
             Row{"cool to 70 degC as fast as possible", "`cool` alone goes as fast as it can",
                 "leave `as fast as possible` out", "cool to 70 degC"},
             Row{"ramp to 700 degC under vacuum",
                 "`under vacuum` has no place in `ramp`: what gas there is, statements of their own say",
                 "write `evacuate to PRESSURE` on a line before it", ""},
             Row{"ramp to 700 degC in 2 h", "the time of a ramp follows `over`", "write `over`",
                 "ramp to 700 degC over 2 h"},
             Row{"ramp to 700 degC in soak",
                 "`in` has no place in `ramp`: its time follows `over`, and gas is opened by a statement of "
                 "its own",
                 "write `over soak` where that is a time, or `open soak at FLOW` on a line before where it is "
                 "a gas",
                 ""},
             Row{"dwell until oxygen below 20 ppm", "two values are compared with a sign", "write `<`",
                 "dwell until oxygen < 20 ppm"},
             Row{"require oxygen is less than 20 ppm", "two values are compared with a sign",
                 "write `<` or `>`", ""},
             Row{"require temperature above 20 degC", "two values are compared with a sign", "write `>`",
                 "require temperature > 20 degC"},
             Row{"heater off",
                 "`heater off` begins no statement: the heater is off while the tube cools by itself",
                 "write `cool to TARGET`", ""},
             Row{"burner on", "`burner` begins no statement: it is lit with `light burner`",
                 "write `light burner`", "light burner"},
             Row{"pump off", "`pump` begins no statement: it is stopped with `stop pump`", "write `stop pump`",
                 "stop pump"},
             Row{"vacuum off", "`vacuum` begins no statement: the pump is stopped with `stop pump`",
                 "write `stop pump`", ""},
             Row{"while oxygen > 5 ppm {\nnote \"x\"\n}",
                 "`while` begins no statement: a condition is waited for with `dwell until`, and steps come "
                 "again with `repeat`",
                 "write `dwell until CONDITION`, or `repeat N times { … }`", ""},
             Row{"loop {\nnote \"x\"\n}", "`loop` begins no statement: steps come again with `repeat`",
                 "write `repeat N times { … }`", ""},
             Row{"dwell 1'30", "`'` is no unit here: minutes are written `min`, and seconds `s`",
                 "where minutes are meant, write `1 min 30 s`", ""},
             Row{"kepe x", "`kepe` begins no statement here", "perhaps `keep`", ""},
             Row{"kepe argon open above 300 degC", "`kepe` is no word of the language; read as `keep`",
                 "write `keep`", "keep argon open above 300 degC"},
             Row{"furnace off",
                 "`furnace off` begins no statement: the heater is off while the tube cools by itself",
                 "write `cool to TARGET`", ""},
             Row{"argon on at 2.5 L/min",
                 "`argon` begins no statement: a line is opened with `open` and shut with `close`",
                 "write `open argon at 2.5 L/min`", ""},
             Row{"dwell 1½ h", "a fraction is written with a decimal point", "write `1.5`", "dwell 1.5 h"},
             Row{"dwell /* a", "a comment begins with `#` and ends with its line",
                 "write `#` before each line of the comment, without `/*` and `*/`", ""},
             Row{"close(argon)", "`close` is a word of the language, and takes no parentheses",
                 "write `close argon`", "close argon"},
             Row{"purge(argon)", "`purge` is a word of the language, and takes no parentheses",
                 "write `purge`, and what it takes, with blanks between the words", ""},
             Row{"stop run",
                 "`stop` belongs to the pump; a run begins with its first step and ends with the `}` of its "
                 "recipe",
                 "leave `stop run` out, or write `stop pump`", ""},
         })
        check(row);
}

TEST_CASE("flows, conditions, mixtures, texts and values in other forms") {
    for (const Row& row :
         {Row{"switch off argon at 2 slm", "a line is shut with `close`", "write `close argon`", ""},
          Row{"dwell 2 hours 30 minutes", "unknown unit `hours`", "write `2 h`", "dwell 2 h 30 minutes"},
          Row{"dwell 1 hour and 30 minutes", "unknown unit `hour`", "write `1 h`", "dwell 1 h and 30 minutes"},
          Row{"dwell until temperature 700 degC", "no sign compares `temperature` with `700 degC`",
              "write `temperature < 700 degC`, or `temperature > 700 degC`", ""},
          Row{"heat at 5 K/min to 700 degC", "`5 K/min` stands before the target",
              "write `ramp to 700 degC at 5 K/min`", ""},
          Row{"ramp to 700 degC at 5 K/min hold 30 min",
              "a statement ends with its line, and another one begins here",
              "write `hold 30 min` on a line of its own, or `;` before it", ""},
          Row{"ramp to 700 degC at 5 K/min dwell 30 min",
              "a statement ends with its line, and another one begins here",
              "write `dwell 30 min` on a line of its own, or `;` before it",
              "ramp to 700 degC at 5 K/min ; dwell 30 min"},
          Row{"ramp to 700 degC at a rate of 5 K/min", "the rate of a ramp follows `at` at once",
              "write `at 5 K/min`", ""},
          Row{"ramp to 700 degC with 5 K/min", "the rate of a ramp follows `at`", "write `at`",
              "ramp to 700 degC at 5 K/min"},
          Row{"ramp to 700 degC slowly", "how fast a ramp goes is said by a figure",
              "write `at RATE`, or `over TIME`", ""},
          Row{"cool to below 70 degC", "`cool to` takes the temperature that is reached", "leave `below` out",
              "cool to 70 degC"},
          Row{"cool until 70 degC", "the target of a step follows `to`", "write `to 70 degC`",
              "cool to 70 degC"},
          Row{"cool until temperature < 70 degC", "the target of a step follows `to`", "write `to 70 degC`",
              "cool to 70 degC"},
          Row{"power off", "`power off` begins no statement: the heater is off while the tube cools by itself",
              "write `cool to TARGET`", ""},
          Row{"open argon flow 2.5 L/min", "a flow follows the word `at`", "write `at 2.5 L/min`",
              "open argon at 2.5 L/min"},
          Row{"open argon to 2.5 L/min", "a flow follows the word `at`", "write `at 2.5 L/min`",
              "open argon at 2.5 L/min"},
          Row{"open argon with 2.5 L/min", "a flow follows the word `at`", "write `at 2.5 L/min`",
              "open argon at 2.5 L/min"},
          Row{"open argon flow at 2.5 L/min", "a line, or its gas, is called by its name alone",
              "leave `flow` out", "open argon at 2.5 L/min"},
          Row{"open argon valve", "a line, or its gas, is called by its name alone", "leave `valve` out",
              "open argon"},
          Row{"close argon valve", "a line, or its gas, is called by its name alone", "leave `valve` out",
              "close argon"},
          Row{"close all valves", "`close all` shuts every line", "leave `valves` out", "close all"},
          Row{"argon 2.5 L/min", "`argon` begins no statement: a line is opened with `open`",
              "write `open argon at 2.5 L/min`", ""},
          Row{"argon = 2.5 L/min", "`argon` begins no statement: a line is opened with `open`",
              "write `open argon at 2.5 L/min`", ""},
          Row{"argon: 2.5 L/min", "`argon` begins no statement: a line is opened with `open`",
              "write `open argon at 2.5 L/min`", ""},
          Row{"argon flow 2.5 L/min", "`argon` begins no statement: a line is opened with `open`",
              "write `open argon at 2.5 L/min`", ""},
          Row{"flow argon 2.5 L/min", "`flow` begins no statement: a line is opened with `open`",
              "write `open argon at 2.5 L/min`", ""},
          Row{"set argon at 2.5 L/min", "the new flow follows the word `to`", "write `to 2.5 L/min`",
              "set argon to 2.5 L/min"},
          Row{"set argon flow to 2.5 L/min", "a line, or its gas, is called by its name alone",
              "leave `flow` out", "set argon to 2.5 L/min"},
          Row{"purge argon 30 min", "`for` is missing before `30 min`", "write `for 30 min`",
              "purge argon for 30 min"},
          Row{"purge argon 2.4 slm 30 min", "`at` is missing before `2.4 slm`", "write `at 2.4 slm`",
              "purge argon at 2.4 slm 30 min"},
          Row{"purge argon at 2.4 slm, 30 min", "`for` stands before `30 min`, no comma", "write `for 30 min`",
              "purge argon at 2.4 slm for 30 min"},
          Row{"purge argon at 2.4 slm 30 min", "`for` is missing before `30 min`", "write `for 30 min`",
              "purge argon at 2.4 slm for 30 min"},
          Row{"purge argon 5 volumes", "`for` is missing before `5 volumes`", "write `for 5 volumes`",
              "purge argon for 5 volumes"},
          Row{"purge argon until oxygen is below 50 ppm", "two values are compared with a sign", "write `<`",
              ""},
          Row{"temperature = 700 degC", "`temperature` is measured, and given no value",
              "write `ramp to 700 degC at RATE`, or `step to 700 degC` at once", ""},
          Row{"pressure = 5 mbar", "`pressure` is measured, and given no value",
              "write `evacuate to 5 mbar`, or `regulate pressure to 5 mbar` while the pump runs", ""},
          Row{"wait for 5 min",
              "`wait` waits for a person; for a time, or until a condition holds, a set-point is held with "
              "`dwell`",
              "write `dwell`", "dwell 5 min"},
          Row{"wait for temperature > 300 degC",
              "`wait` waits for a person; for a time, or until a condition holds, a set-point is held with "
              "`dwell`",
              "write `dwell until`", "dwell until temperature > 300 degC"},
          Row{"evacuate 1 mbar", "`to` is missing before `1`", "write `to 1 mbar`", "evacuate to 1 mbar"},
          Row{"evacuate down to 1 mbar", "`evacuate to` takes the pressure at once", "leave `down` out",
              "evacuate to 1 mbar"},
          Row{"pump down", "`pump` begins no statement: a tube is pumped down with `evacuate`",
              "write `evacuate to PRESSURE`", ""},
          Row{"regulate pressure at 5 mbar", "the pressure follows the word `to`", "write `to`",
              "regulate pressure to 5 mbar"},
          Row{"require argon open", "the state of a line is asked with `is`", "write `is open`",
              "require argon is open"},
          Row{"require argon is on",
              "`on` is no state: a line is open or closed, and a burner or a pump runs or not",
              "write `NAME is open`, or `burner` and `not burner`", ""},
          Row{"require argon on",
              "`on` is no state: a line is open or closed, and a burner or a pump runs or not",
              "write `NAME is open`, or `burner` and `not burner`", ""},
          Row{"require burner on",
              "`on` is no state: a line is open or closed, and a burner or a pump runs or not",
              "write `NAME is open`, or `burner` and `not burner`", ""},
          Row{"require burner lit",
              "`lit` is no state: a line is open or closed, and a burner or a pump runs or not",
              "write `NAME is open`, or `burner` and `not burner`", ""},
          Row{"expect oxygen lower than 5 ppm", "two values are compared with a sign", "write `<`",
              "expect oxygen < 5 ppm"},
          Row{"note hello", "a note stands in double quotes", "write `note \"hello\"`", "note \"hello\""},
          Row{"note 'hello'", "a text stands in double quotes", "write `\"…\"`", "note \"hello\""},
          Row{"wait for user",
              "`wait` waits for a person; for a time, or until a condition holds, a set-point is held with "
              "`dwell`",
              "write `dwell`", ""},
          Row{"prompt \"load\"", "`prompt` begins no statement: a person reads a `note`, or is waited for",
              "write `note \"…\"`, or `wait for operator \"…\"`", ""},
          Row{"ask \"load\"", "`ask` begins no statement: a person reads a `note`, or is waited for",
              "write `note \"…\"`, or `wait for operator \"…\"`", ""},
          Row{"hold argon", "`hold` begins no statement: a set-point is held with `dwell`",
              "write `dwell TIME`", ""},
          Row{"mix 5 % hydrogen + rest argon at 2 slm",
              "`mix` begins no statement: gases are mixed with `blend`", "write `blend`",
              "blend 5 % hydrogen + rest argon at 2 slm"},
          Row{"blend 5 % hydrogen, rest argon at 200 sccm", "the parts of a mixture are joined with `+`",
              "write `+`", "blend 5 % hydrogen + rest argon at 200 sccm"},
          Row{"let x 5 min", "`=` is missing before `5`", "write `=` before the value", "let x = 5 min"},
          Row{"let x := 5 min", "a value follows `=` alone", "write `=`", "let x = 5 min"},
          Row{"x := 5 min", "`x` is given a value without `let`", "write `let x = …`", "let x = 5 min"},
          Row{"const x = 5 min", "`const` begins no statement: a name is given a value with `let`",
              "write `let`", "let x = 5 min"},
          Row{"var x = 5 min", "`var` begins no statement: a name is given a value with `let`", "write `let`",
              "let x = 5 min"},
          Row{"hold soak", "`hold` begins no statement: a set-point is held with `dwell`",
              "write `dwell soak` where that is a time", ""},
          Row{"hold until temperature > 300 degC",
              "`hold until` begins no statement: a set-point is held with `dwell`", "write `dwell until`",
              "dwell until temperature > 300 degC"},
          Row{"wait until temperature > 300 degC",
              "`wait` waits for a person; for a time, or until a condition holds, a set-point is held with "
              "`dwell`",
              "write `dwell`", "dwell until temperature > 300 degC"},
          Row{"note hello world # x", "a note stands in double quotes", "write `note \"hello world\"`",
              "note \"hello world\" # x"},
          Row{"mix 5 % hydrogen + rest argon at 200 sccm",
              "`mix` begins no statement: gases are mixed with `blend`", "write `blend`",
              "blend 5 % hydrogen + rest argon at 200 sccm"},
          Row{"blend 5 % hydrogen and rest argon at 200 sccm", "the parts of a mixture are joined with `+`",
              "write `+`", "blend 5 % hydrogen + rest argon at 200 sccm"},
          Row{"dwell until argon open", "the state of a line is asked with `is`", "write `is open`",
              "dwell until argon is open"},
          Row{"for i in 1 to 3 {\nnote \"x\"\n}", "`for` goes through a list; what counts is `repeat`",
              "write `repeat N times as i { … }`, or `for i in [1, 2, 3] { … }`", ""},
          Row{"for i = 1 to 3 {\nnote \"x\"\n}", "`for` goes through a list; what counts is `repeat`",
              "write `repeat N times as i { … }`, or `for i in [1, 2, 3] { … }`", ""}})
        check(row);
}

TEST_CASE("what is not understood is told how it is written") {
    for (const Row& row :
         {Row{"ramp to 500 degC, 600 degC at 5 K/min", "expected a name or `to`, found `600`",
              "it is written `ramp to TARGET at RATE`", ""},
          Row{"dwell min 30", "expected `within`, `{` or the end of the statement, found `30`",
              "it is written `dwell TIME`", ""},
          Row{"start pumping", "`pump` is expected here, found `pumping`", "write `pump`", "start pump"},
          Row{"stop the pump", "`pump` is expected here, found `the`", "write `pump`", "stop pump"},
          Row{"light the burner", "`burner` is expected here, found `the`", "write `burner`", "light burner"},
          Row{"light burner on", "behind `light` stands one word only", "leave `on` out", "light burner"},
          Row{"for 3 times {\nnote \"x\"\n}", "`for` goes through a list; what counts is `repeat`",
              "write `repeat`", "repeat 3 times {\nnote \"x\"\n}"},
          Row{"dwell at least 30 min", "a dwell lasts as long as it says", "write `dwell 30 min`", ""},
          Row{"at 300 degC: open argon at 2.4 slm", "the action follows at once", "leave `:` out",
              "at 300 degC open argon at 2.4 slm"},
          Row{"when temperature > 300 degC open argon",
              "`when` begins no statement: a condition is waited for with `dwell until`, and an action is "
              "placed inside a step",
              "write `dwell until CONDITION` before it, or `at TEMPERATURE ACTION` in the block of a step", ""},
          Row{"until oxygen < 5 ppm purge argon",
              "`until` begins no statement: a condition is waited for with `dwell until`",
              "write `dwell until CONDITION`", ""},
          Row{"if 1 > 0 then open argon", "behind the condition of an `if` its block begins at once",
              "write `if CONDITION { … }`, without `then`", ""},
          Row{"dwell 30 min,", "a statement ends with its line, without `,`", "leave `,` out", "dwell 30 min"},
          Row{"dwell 30 min.", "a statement ends with its line, without `.`", "leave `.` out", "dwell 30 min"},
          Row{"ramp to 500 degC during 2 h", "the time of a ramp follows `over`", "write `over`",
              "ramp to 500 degC over 2 h"},
          Row{"open all", "`all` is a word of the language and cannot be a name",
              "it is written `open LINE at FLOW`", ""},
          Row{"open", "expected a name, found the end of the line", "it is written `open LINE at FLOW`", ""},
          Row{"purge", "expected a name, found the end of the line",
              "it is written `purge LINE at FLOW until CONDITION`", ""},
          Row{"set argon", "expected `to`, found the end of the line", "it is written `set LINE to FLOW`", ""},
          Row{"evacuate", "expected `to`, found the end of the line", "it is written `evacuate to PRESSURE`",
              ""},
          Row{"dwell until", "expected a value, found the end of the line", "it is written `dwell TIME`", ""},
          Row{"require", "expected a value, found the end of the line", "it is written `require CONDITION`",
              ""},
          Row{"note", "expected a text in quotes, found the end of the line", "it is written `note \"…\"`", ""},
          Row{"quench", "expected `in`, found the end of the line", "it is written `quench in water`", ""},
          Row{"wait", "expected `for`, found the end of the line", "it is written `wait for operator \"…\"`",
              ""}})
        check(row);
}

TEST_CASE("a power of ten behind a division is not put into the number before it") {
    constexpr const char* power = "a power of ten is written with `e`";
    for (const Row& row :
         {Row{"dwell 6000 h / 2 * 10^3", power,
              "write `/ 2e3` where it is divided by that number, or `/ 2 * 1e3` where the power "
              "multiplies it",
              ""},
          Row{"dwell 6000 h / 2·10³", power,
              "write `/ 2e3` where it is divided by that number, or `/ 2 * 1e3` where the power "
              "multiplies it",
              ""},
          // The nearest that are sure.
          Row{"dwell 6000 h / 10^3", power, "write `1e3`", "dwell 6000 h / 1e3"},
          Row{"dwell 6 h * 2 * 10^-3", power, "write `2e-3`", "dwell 6 h * 2e-3"}})
        check(row);
}

TEST_CASE("an action follows its place at once, and a second one has its place too") {
    const auto inside = [](const std::string& line) {
        return "ramp to 500 degC at 3 K/min {\n" + line + "\n}";
    };
    const auto row = [&](const char* line, const char* message, const char* remedy, const char* mended) {
        return Row{inside(line), message, remedy, inside(mended)};
    };
    constexpr const char* at_once = "the action follows at once";
    constexpr const char* ends = "a statement ends with its line, and another one begins here";
    for (const Row& r :
         {row("at 300 degC, close argon", at_once, "leave `,` out", "at 300 degC close argon"),
          row("after 10 min, note \"x\"", at_once, "leave `,` out", "after 10 min note \"x\""),
          row("at 300 degC: close argon", at_once, "leave `:` out", "at 300 degC close argon"),
          row("at 300 degC then close argon", at_once, "leave `then` out", "at 300 degC close argon"),
          row("at 300 degC close argon, open helium at 1 slm",
              "`,` joins no steps: a statement ends with its line",
              "write `at 300 degC open helium at 1 slm` on a line of its own, or `;` before it",
              "at 300 degC close argon ; at 300 degC open helium at 1 slm"),
          row("at 300 degC note \"x\" close argon", ends,
              "write `at 300 degC close argon` on a line of its own, or `;` before it",
              "at 300 degC note \"x\" ; at 300 degC close argon")})
        check(r);
    check({"close argon, open helium at 1 slm", "`,` joins no steps: a statement ends with its line",
           "write `open helium at 1 slm` on a line of its own, or `;` before it",
           "close argon ; open helium at 1 slm"});
}

TEST_CASE("a dash is a minus sign only where something can be subtracted") {
    for (const Row& row :
         {Row{"ramp to 500 degC at 3 K/min — slow", "an em dash has no meaning here",
              "write `#` before a remark, or `-` where something is subtracted", ""},
          Row{"dwell 30 min – to dry", "an en dash has no meaning here",
              "write `#` before a remark, or `-` where something is subtracted", ""},
          Row{"ramp to 500 degC at 3–5 K/min", "an en dash has no meaning here",
              "write one value, as no range can be keyed, or `-` where something is subtracted", ""},
          Row{"let slack = 5 min\ndwell 30 min – slack",
              "this character (en dash, U+2013) only looks like one of the language", "write `-` instead",
              "let slack = 5 min\ndwell 30 min - slack"},
          Row{"ramp to 500 degC – 20 K at 3 K/min",
              "this character (en dash, U+2013) only looks like one of the language", "write `-` instead",
              "ramp to 500 degC - 20 K at 3 K/min"}})
        check(row);
}

TEST_CASE("remarks, figures alone, and words that belong to another statement") {
    for (const Row& row :
         {Row{"dwell for operator", "a person is waited for with `wait`", "write `wait for operator \"…\"`",
              ""},
          Row{"inert_purge at 2.4 slm", "an operation is called with parentheses",
              "write `inert_purge(…)`, with what it takes between them", ""},
          Row{"call foo(3 h)", "an operation is called by its name alone", "leave `call` out", "foo(3 h)"},
          Row{"ramp to 700 degC while oxygen < 5 ppm",
              "a step has no `while`: what must hold is a `require` before it",
              "write `require oxygen < 5 ppm` on a line before it", ""},
          Row{"dwell while oxygen < 5 ppm", "a step has no `while`: what must hold is a `require` before it",
              "write `require oxygen < 5 ppm` on a line before it", ""},
          Row{"hold temperature for 30 min",
              "`hold temperature for` begins no statement: a set-point is held with `dwell`",
              "write `dwell 30 min`", "dwell 30 min"},
          Row{"hold temperature", "`hold temperature` begins no statement: a set-point is held with `dwell`",
              "write `dwell TIME`", ""},
          Row{"cool to 70 degC naturally", "`cool to` alone cools without the heater", "leave `naturally` out",
              "cool to 70 degC"},
          Row{"open argon, hydrogen", "`open` opens one line",
              "write `open hydrogen at FLOW` on a line of its own", ""},
          Row{"open argon hydrogen", "`open` opens one line",
              "write `open hydrogen at FLOW` on a line of its own", ""},
          Row{"open argon and hydrogen", "`open` opens one line",
              "write `open hydrogen at FLOW` on a line of its own", ""},
          Row{"close argon and hydrogen", "several lines stand with commas between them", "write `, hydrogen`",
              ""},
          Row{"close argon hydrogen", "several lines stand with commas between them", "write `, hydrogen`", ""},
          Row{"dwell 30 min \"soak\"", "a remark is no part of a statement",
              "write it as a comment, `# soak`, or on a line of its own, `note \"soak\"`", ""},
          Row{"dwell 30 min (soak)", "a remark is no part of a statement",
              "write it as a comment, `# soak`, or on a line of its own, `note \"soak\"`", ""},
          Row{"700 degC for 2 h", "`700 degC` begins no statement: a figure stands behind what it is for",
              "write `ramp to 700 degC at RATE`", ""},
          Row{"30 min", "`30 min` begins no statement: a figure stands behind what it is for",
              "write `dwell 30 min`", ""},
          Row{"5 K/min", "`5 K/min` begins no statement: a figure stands behind what it is for",
              "write `ramp to TARGET at 5 K/min`", ""},
          Row{"ramp to 700 degC (5 K/min)",
              "expected `,`, `at`, `over`, `within`, `{` or the end of the statement, found `(`",
              "it is written `ramp to TARGET at RATE`", ""}})
        check(row);
}

TEST_CASE("an operation that is declared, and a word that only looks like one of the language") {
    const std::string operation = "operation foo(t : time) {\ndwell t\n}\n";
    const auto told = [&](const std::string& line) { return Read(operation + recipe(line)); };
    const Read call = told("foo 3 h");
    CHECK(call.messages() == "recipe.ath:5:1: error: an operation is called with parentheses [syntax]\n");
    CHECK(settled(operation + recipe("foo 3 h")) == operation + recipe("foo(3 h)"));
    CHECK(told("foo").diagnostics.all().front().remedies.front() == "write `foo()`");
    for (const char* line : {"beep", "foo 3 h", "kepe x", "goto 3", "foo"}) {
        CAPTURE(line);
        const Read undeclared(recipe(line));
        CHECK(!undeclared.diagnostics.all().front().edit);
        CHECK(undeclared.messages().find("begins no statement") != std::string::npos);
        CHECK(undeclared.diagnostics.all().front().remedies.front().find("()") == std::string::npos);
    }
    CHECK(Read(recipe("make_inert")).diagnostics.all().front().remedies.front() ==
          "docs/language.md lists the words that begin one, under \"Steps\" and \"Actions\"");
}

TEST_CASE("a comment behind a semicolon, and numbers that have no thousands") {
    const Read comment(recipe("dwell 30 min ; soak"));
    CHECK(comment.diagnostics.errors() == 1);
    CHECK(!comment.diagnostics.all().front().edit);
    CHECK(comment.diagnostics.all().front().remedies ==
          std::vector<std::string>{"write `dwell TIME`", "a comment begins with `#`; `;` ends a statement"});
    CHECK(settled(recipe("dwell 30 min ; hold 2 h")) == recipe("dwell 30 min ; dwell 2 h"));
}

TEST_CASE("the head of a recipe") {
    const std::string steps = "    dwell 5 min\n    dwell 6 min\n}\n";
    const std::string head = "recipe x on bench for box";
    const Read headless(head + "\n" + steps);
    CHECK(headless.messages() ==
          "recipe.ath:1:26: error: `{` is missing behind the head of this `recipe` [syntax]\n");
    CHECK(settled(head + "\n" + steps) == head + " {\n" + steps);
    CHECK(settled("recipe x for box on bench {\n" + steps) == head + " {\n" + steps);
    const Read turned("recipe x for box on bench {\n" + steps);
    CHECK(turned.messages() == "recipe.ath:1:10: error: the rig stands before the controller [syntax]\n");
}

TEST_CASE("files that are imported in the words of other languages") {
    for (const char* line :
         {"import \"a/b.ath\"", "include \"a/b.ath\"", "use a/b.ath", "use 'a/b.ath'", "import a/b.ath"}) {
        CAPTURE(line);
        CHECK(Read(line).diagnostics.errors() == 1);
        CHECK(settled(line) == "use \"a/b.ath\"");
    }
}

TEST_CASE("a remedy says what the statement that stands there can take") {
    constexpr const char* guards = "at which temperatures a condition must hold is said with `while`";
    for (const Row& row :
         {Row{"start burner", "`start` belongs to the pump: a burner is lit, and shut", "write `light burner`",
              "light burner"},
          Row{"stop burner", "`stop` belongs to the pump: a burner is lit, and shut", "write `shut burner`",
              "shut burner"},
          Row{"shut pump", "`shut` belongs to the burner: a pump is started, and stopped", "write `stop pump`",
              "stop pump"},
          Row{"purge argon at 2.4 slm until oxygen = 20 ppm",
              "`=` gives a value to a name; it does not compare",
              "compare names with `is`, and measured values with `<`, `<=`, `>` or `>=`", ""},
          Row{"require oxygen < 60 ppm above 300 degC", guards, "write `while temperature > 300 degC`",
              "require oxygen < 60 ppm while temperature > 300 degC"},
          Row{"require oxygen < 60 ppm below 300 degC", guards, "write `while temperature < 300 degC`",
              "require oxygen < 60 ppm while temperature < 300 degC"},
          Row{"require temperature above 300 degC", "two values are compared with a sign", "write `>`",
              "require temperature > 300 degC"},
          Row{"wait for operator \"load\" with open tube",
              "that the tube is open while a person works is said with `with tube open`",
              "write `with tube open`", "wait for operator \"load\" with tube open"}})
        check(row);
}

TEST_CASE("a comma that is missing between parameters is one finding, and mended") {
    const std::string head = "recipe x(peak : temperature = 500 degC",
                      tail = "\n    soak : time = 1 h) {\n dwell soak\n}\n";
    const Read read(head + tail);
    REQUIRE(read.diagnostics.errors() == 1);
    const Diagnostic& d = read.diagnostics.all().front();
    CHECK(d.message == "a comma is missing before `soak`");
    REQUIRE(d.edit);
    CHECK(with(head + tail, *d.edit) == head + "," + tail);
    CHECK(Read(head + "," + tail).messages() == "");
}

TEST_CASE("a name with a dash is written with a low line") {
    for (const std::string head : {"recipe nickel-reduction", "recipe nickel-reduction-two \"title\""}) {
        CAPTURE(head);
        const std::string text = head + " {\n dwell 1 h\n}\n";
        const Read read(text);
        REQUIRE(read.diagnostics.errors() == 1);
        const Diagnostic& d = read.diagnostics.all().front();
        CHECK(d.message == "a name is made of letters, digits and `_`");
        REQUIRE(d.edit);
        CHECK(with(text, *d.edit).find("recipe nickel_reduction") == 0);
    }
}

TEST_CASE("a type in front of a parameter's name goes behind it") {
    const std::string text = "recipe x(temperature peak = 500 degC) {\n ramp to peak at 5 K/min\n}\n";
    const Read read(text);
    REQUIRE(read.diagnostics.errors() == 1);
    const Diagnostic& d = read.diagnostics.all().front();
    CHECK(d.message == "the type of a parameter stands behind its name");
    REQUIRE(d.edit);
    CHECK(with(text, *d.edit) == "recipe x(peak : temperature = 500 degC) {\n ramp to peak at 5 K/min\n}\n");
}

TEST_CASE("a letter of another alphabet is told as the one that it looks like") {
    for (const Row& row :
         {Row{"dwell 1 h within 5 \u041A",
              "`\u041A`, U+041A, is a Cyrillic letter and only looks like the letter `K`", "type it anew: `K`",
              "dwell 1 h within 5 K"},
          Row{"dwell 1 h within 5 \u212A",
              "`\u212A`, U+212A, is the sign of the kelvin and only looks like the letter `K`",
              "type it anew: `K`", "dwell 1 h within 5 K"},
          Row{"ramp to 700 deg\u0421 at 5 K/min",
              "`\u0421`, U+0421, is a Cyrillic letter and only looks like the letter `C`",
              "type it anew: `degC`", "ramp to 700 degC at 5 K/min"},
          Row{"\u0441lose argon", "`\u0441`, U+0441, is a Cyrillic letter and only looks like the letter `c`",
              "type it anew: `close`", "close argon"}})
        check(row);
}

TEST_CASE("characters that show nothing are refused wherever they stand") {
    for (const char* line : {"note \"\u202Enepo valve 3\"", "dwell 1 h # \u2066later", "dwell\u200E 1 h",
                             "note \"a\u2069\"", "note \"a\u061C\""}) {
        CAPTURE(line);
        const Read read(recipe(line));
        REQUIRE(read.diagnostics.errors() == 1);
        const Diagnostic& d = read.diagnostics.all().front();
        CHECK(d.message.starts_with("an invisible mark of direction, U+"));
        CHECK(d.remedies.front().starts_with("delete it"));
        CHECK_FALSE(d.edit);
    }
    for (const char* line :
         {"dwell 1\u200B h", "note \"argon\u00AD\"", "note \"\uFEFF\"", "# \u2060", "note \"\U000E0041\"",
          "note \"gauge\x01 shut\"", "note \"\x1B[2J\"", "note \"\x7F\"", "note \"\u009B2J\"", "# \x08"}) {
        CAPTURE(line);
        const Read read(recipe(line));
        REQUIRE(read.diagnostics.errors() == 1);
        CHECK(read.diagnostics.all().front().message.starts_with("an invisible character, U+"));
    }
    // The nearest that pass: a byte order mark at the head, other signs in a text, a tab.
    CHECK(Read(recipe("note \"read gauge:\tlog it\"\t# twice")).messages() == "");
    CHECK(Read("\uFEFF" + recipe("note \"5 °C, ± 2, п, 中\"")).messages() == "");
}

} // namespace athanor::grammar_test
