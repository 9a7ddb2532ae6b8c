// The state at any instant: as rows, as a drawing, and a rig's curves.
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>

#include <filesystem>
#include <sys/stat.h>
#include <unistd.h>

namespace {

const std::string accepted = project + "/tests/examples/accepted";

/// Runs a Python script in a scratch folder; its own asserts are the checks.
void python_agrees(const Scratch& scratch, const std::string& script) {
    scratch.write("check.py", script);
    Result result = shell("/usr/bin/python3 check.py", scratch.path());
    CHECK_MESSAGE(result.status == 0, result.err);
}

/// Shared by the scripts: rows as dictionaries, pairs of bounds.
const char* const read_rows = R"(
import csv
raw = open('state.csv', newline='').read()
assert raw.count('\r\n') == raw.count('\n')
rows = list(csv.DictReader(raw.splitlines()))
names = [n[:-6] for n in rows[0] if n.endswith('_lower')]
def lo(r, n): return float(r[n + '_lower'])
def hi(r, n): return float(r[n + '_upper'])
)";

std::string state_of(const std::string& file, const std::vector<std::string>& more = {}) {
    std::vector<std::string> arguments{"check", file, "--emit", "state"};
    arguments.insert(arguments.end(), more.begin(), more.end());
    Result result = athanor(arguments, accepted);
    CHECK_MESSAGE(result.status == 0, result.err);
    return result.out;
}

} // namespace

TEST_CASE("rows of state: lower never exceeds upper, time never runs back, Python reads every number") {
    for (const char* file : {"copper_sinter.ath", "vacuum_degas.ath", "threshold_gas.ath",
                             "../../../recipes/gradient_growth.ath"}) {
        CAPTURE(file);
        Scratch scratch;
        scratch.write("state.csv", state_of(file));
        python_agrees(scratch, std::string(read_rows) + R"(
assert len(rows) > 30, len(rows)
assert rows[0]['row'] == 'entry' and rows[-1]['row'] == 'end'
last = 0
for r in rows:
    assert None not in r and None not in r.values(), r
    for n in names:
        assert lo(r, n) <= hi(r, n), (n, r)
    t = float(r['time_s'])
    assert t >= last, (t, last)
    last = t
    assert lo(r, 'time_s') <= t * (1 + 1e-6) + 1e-3 and t <= hi(r, 'time_s') * (1 + 1e-6) + 1e-3, r
    if r['row'] != 'end': assert 0 <= lo(r, 'oxygen_fraction') <= hi(r, 'oxygen_fraction') <= 1
# An exit is a hull: what stands in the last row before it, at the shortest or longest length, lies inside when the
# length is one number.
for a, b in zip(rows, rows[1:]):
    if b['row'] == 'exit' and a['row'] == 'within' and b['time_s_lower'] == b['time_s_upper'] == a['time_s_upper']:
        for n in names:
            assert lo(b, n) <= lo(a, n) + 1e-5 * abs(lo(a, n)) + 1e-6 and hi(a, n) <= hi(b, n) + 1e-5 * abs(hi(b, n)) + 1e-6, (n, a, b)
)");
    }
}

TEST_CASE("rows of state say what the recipe and the prover say") {
    Scratch scratch;
    scratch.write("state.csv", state_of("copper_sinter.ath"));
    // copper_sinter requires oxygen below 30 ppm above 250 degC and purges to 10 ppm first; hydrogen enters at
    // 880 degC.
    python_agrees(scratch, std::string(read_rows) + R"(
hot = [r for r in rows if hi(r, 'hot_zone_degC') > 250]
assert len(hot) > 20 and all(hi(r, 'oxygen_fraction') < 30e-6 for r in hot), 'required by the recipe'
purged = [r for r in rows if r['path'].endswith('argon') and r['row'] == 'exit']
assert len(purged) == 1 and hi(purged[0], 'oxygen_fraction') <= 10e-6, purged
air = rows[0]
assert 0.20 < lo(air, 'oxygen_fraction') and hi(air, 'oxygen_fraction') < 0.211, 'room air before anything happens'
first = next(r for r in rows if lo(r, 'open_hydrogen') == 1)
assert float(first['setpoint_centre_degC']) == 880 and float(first['set_hydrogen_sccm']) == 500
assert first['burner'] == '1', 'the burner is lit before hydrogen enters'
assert max(float(r['setpoint_centre_degC']) for r in rows) == 950
ramps = [r for r in rows if r['path'] == 'ramp']
# Straight line of 4 K/min from 23 degC.
for r in ramps:
    assert abs(float(r['setpoint_centre_degC']) - 23 - float(r['after_entry_s']) / 15) < 0.01 + 1e-6, r
# Every step is keyed by a segment, and the segments never run back.
segments = [r['segment'] for r in rows if r['row'] == 'entry']
assert all(segments), segments
numbers = [int(s.split('-')[0].split('.')[1]) for s in segments]
assert numbers == sorted(numbers) and numbers[0] == 1, numbers
)");
}

TEST_CASE("--every sets the distance of rows") {
    Scratch scratch;
    scratch.write("state.csv", state_of("argon_anneal.ath", {"--every", "5 min"}));
    python_agrees(scratch, std::string(read_rows) + R"(
seen = 0
for a, b in zip(rows, rows[1:]):
    if a['span'] == b['span'] and b['row'] == 'within':
        step = float(b['after_entry_s']) - float(a['after_entry_s'])
        assert 0 < step <= 300.001, (a, b)
        seen += abs(step - 300) < 1e-6
assert seen > 50, seen
)");
    for (const char* wrong : {"5", "min", "0 min", "-5 min", "5 K", "5 min 3 s", "1e999 s", ""}) {
        CAPTURE(wrong);
        Result result = athanor({"check", "argon_anneal.ath", "--emit", "state", "--every", wrong}, accepted);
        if (*wrong == 0) continue; // an empty value means: not given
        CHECK(result.status == 2);
        CHECK(result.out.empty());
    }
    CHECK(athanor({"check", "argon_anneal.ath", "--every", "5 min"}, accepted).status == 2);
    Result fine = athanor({"check", "argon_anneal.ath", "--emit", "state", "--every", "0.0001 s"}, accepted);
    CHECK(fine.status == 2);
    CHECK(fine.out.empty());
    CHECK(athanor({"check", "argon_anneal.ath", "copper_sinter.ath", "--emit", "state"}, accepted).status == 2);
}

TEST_CASE("a refused recipe still has rows and a drawing, and both say that it is refused") {
    std::string refused = project + "/tests/examples/refused";
    Result rows = athanor({"check", "no_purge.ath", "--emit", "state"}, refused);
    CHECK(rows.status == 1);
    CHECK(rows.out.find("span,path,") == 0);
    Result drawn = athanor({"plot", "no_purge.ath", "-o", "-"}, refused);
    CHECK(drawn.status == 1);
    CHECK(drawn.out.find("REFUSED") != std::string::npos);
    Result nothing = athanor({"plot", "litres_of_what.ath", "-o", "-"}, refused);
    CHECK(nothing.status == 1);
    CHECK(nothing.out.empty());
}

TEST_CASE("a drawing is well-formed, accessible, without script, and the same each time") {
    Scratch one, two;
    for (const char* file : {"copper_sinter", "vacuum_degas", "threshold_gas", "air_calcine"}) {
        CAPTURE(file);
        for (const Scratch* scratch : {&one, &two}) {
            Result result = athanor(
                {"plot", std::string(file) + ".ath", "-o", scratch->path() + "/" + file + ".svg"}, accepted);
            CHECK_MESSAGE(result.status == 0, result.err);
        }
        CHECK(one.read(std::string(file) + ".svg") == two.read(std::string(file) + ".svg"));
    }
    python_agrees(one, R"(
import glob, re, xml.dom.minidom as m
names = sorted(glob.glob('*.svg'))
assert len(names) == 4, names
text = {}
for name in names:
    d = m.parse(name)
    root = d.documentElement
    assert root.tagName == 'svg' and root.getAttribute('xmlns') == 'http://www.w3.org/2000/svg'
    heads = [c.tagName for c in root.childNodes if c.nodeType == 1][:2]
    assert heads == ['title', 'desc'] and d.getElementsByTagName('title')[0].firstChild.data
    assert not d.getElementsByTagName('script') and 'http' not in open(name).read().replace('http://www.w3.org/2000/svg', '')
    width, height = float(root.getAttribute('width')), float(root.getAttribute('height'))
    # Nothing is drawn outside the page, and every text begins and ends on it (0.58 em a letter).
    for t in d.getElementsByTagName('text'):
        x, y, size = (float(t.getAttribute(a)) for a in ('x', 'y', 'font-size'))
        wide = 0.58 * size * len(t.firstChild.data)
        left = x - {'': 0, 'middle': wide / 2, 'end': wide}[t.getAttribute('text-anchor')]
        assert -1 <= left and left + wide <= width + 1 and 0 < y < height, (name, t.toxml())
    for p in d.getElementsByTagName('path'):
        if p.parentNode.tagName == 'pattern': continue
        n = [float(v) for v in re.findall(r'-?[0-9.]+', p.getAttribute('d'))]
        assert all(0 <= v <= width for v in n[0::2]) and all(0 <= v <= height for v in n[1::2]), (name, p.toxml())
    text[name] = [t.firstChild.data for t in d.getElementsByTagName('text')]
sinter, vacuum, gas, air = (text[n + '.svg'] for n in ('copper_sinter', 'vacuum_degas', 'threshold_gas', 'air_calcine'))
for word in ('Temperature', 'Oxygen', 'argon', 'hydrogen', 'burner', 'set-point', 'load', '500 sccm'):
    assert word in sinter, (word, sinter)
assert 'pump' in vacuum and 'Pressure' in vacuum and 'mbar, absolute' in vacuum and '0.01' in vacuum, vacuum
assert 'pump' not in sinter and 'Pressure' not in air
assert any('open above 650 °C' in t for t in gas), gas
)");
}

TEST_CASE("the curve of a drawing stands where the rows say") {
    Scratch scratch;
    scratch.write("state.csv", state_of("air_calcine.ath"));
    Result result = athanor({"plot", "air_calcine.ath", "-o", scratch.path()}, accepted);
    CHECK_MESSAGE(result.status == 0, result.err);
    // The set-point line: its pixels over the ticks of the two axes give back the greatest set-point and the
    // time at which it is reached.
    python_agrees(scratch, std::string(read_rows) + R"(
import re, xml.dom.minidom as m
d = m.parse('air_calcine.svg')
texts = [(t.firstChild.data, float(t.getAttribute('x')), float(t.getAttribute('y')), t.getAttribute('text-anchor')) for t in d.getElementsByTagName('text')]
top = next(y for s, x, y, a in texts if s == 'Temperature')
def number(s):
    try: return float(s)
    except ValueError: return None
degrees = [(number(s), y - 4) for s, x, y, a in texts if a == 'end' and number(s) is not None and top - 20 < y < top + 250]
(v0, y0), (v1, y1) = degrees[0], degrees[-1]
hours = [(number(s), x) for s, x, y, a in texts if a == 'middle' and number(s) is not None]
(h0, x0), (h1, x1) = hours[0], hours[-1]
line = [p for p in d.getElementsByTagName('path') if p.getAttribute('stroke') == '#1a1a1a' and p.getAttribute('stroke-width') == '1.3' and p.getAttribute('stroke-linejoin')][0]
n = [float(v) for v in re.findall(r'-?[0-9.]+', line.getAttribute('d'))]
drawn = [(h0 + (x - x0) * (h1 - h0) / (x1 - x0), v0 + (y - y0) * (v1 - v0) / (y1 - y0)) for x, y in zip(n[0::2], n[1::2])]
wanted = [(float(r['time_s']) / 3600, float(r['setpoint_centre_degC'])) for r in rows]
peak = max(v for t, v in wanted)
reached = min(t for t, v in wanted if v == peak)
kelvin, hour = abs((v1 - v0) / (y1 - y0)), abs((h1 - h0) / (x1 - x0))  # of one pixel
assert abs(max(v for t, v in drawn) - peak) < kelvin, (drawn, peak)
assert abs(min(t for t, v in drawn if v > peak - kelvin) - reached) < 2 * hour, (drawn, reached)
)");
}

TEST_CASE("a long recipe gives a small drawing") {
    Scratch scratch;
    for (const char* file : {"rigs/bench_two.ath", "controllers/bench_controller.ath"})
        scratch.write(std::string(file).substr(std::string(file).rfind('/') + 1),
                      read_text(project + "/tests/examples/" + file));
    scratch.write(
        "long.ath",
        "use \"bench_two.ath\"\nuse \"bench_controller.ath\"\n"
        "recipe long on bench_two for bench_controller {\n    ramp to 400 degC at 8 K/min\n"
        "    repeat 300 times {\n        ramp to 800 degC at 8 K/min\n        dwell 20 min within 5 K\n"
        "        cool to 400 degC at 1 K/min\n        dwell 10 min\n    }\n    cool to 80 degC\n}\n");
    Result result = athanor({"plot", "long.ath"}, scratch.path());
    CHECK_MESSAGE(result.status == 0, result.err);
    CHECK(result.out == "long.svg\n");
    CHECK(scratch.read("long.svg").size() > 10'000);
    CHECK(scratch.read("long.svg").size() < 1'000'000);
}

TEST_CASE("a drawing is written whole or not at all") {
    Scratch scratch;
    scratch.write("file", "a file, no folder");
    Result below = athanor({"plot", "air_calcine.ath", "-o", scratch.path() + "/file/out.svg"}, accepted);
    CHECK(below.status == 2);
    CHECK(below.err.find("nothing was written") != std::string::npos);
    std::filesystem::create_directories(scratch.path() + "/taken.svg/inside");
    Result taken =
        athanor({"plot", "air_calcine.ath", "-o", "taken.svg/air_calcine.svg/x.svg"}, scratch.path());
    CHECK(taken.status == 2);
    Result rig = athanor({"rig", project + "/recipes/rigs/gradient_three.ath", "--plot", "file/out.svg"},
                         scratch.path());
    CHECK(rig.status == 2);
    CHECK(scratch.names() == std::vector<std::string>{"file", "taken.svg"});
    CHECK(scratch.read("file") == "a file, no folder");
    if (::access("/dev/full", W_OK) == 0)
        CHECK(shell("'" ATHANOR_PROGRAM "' plot air_calcine.ath -o - > /dev/full", accepted).status == 2);
}

TEST_CASE("a rig shows its furnace as a table of 80 columns and as curves") {
    Scratch scratch;
    Result result =
        athanor({"rig", project + "/recipes/rigs/gradient_three.ath", "--plot", "rig.svg"}, scratch.path());
    CHECK_MESSAGE(result.status == 0, result.err);
    scratch.write("out", result.out);
    python_agrees(scratch, R"(
import re, xml.dom.minidom as m
lines = open('out', encoding='utf-8').read().splitlines()
assert max(len(l) for l in lines) <= 80, max(lines, key=len)
rows = [l for l in lines if re.match(r' +\d+ +[\d.]+ to ', l)]
assert len(rows) >= 10, lines
last = None
for l in rows:
    n = [float(v) for v in re.findall(r'[\d.]+(?:e[+-]\d+)?', l)]
    pairs = list(zip(n[1::2], n[2::2]))
    assert all(a <= b for a, b in pairs), l
    heats, cools, holds = pairs[:3]
    # A hotter furnace heats no faster, cools no slower and takes no less to hold.
    if last: assert heats[1] <= last[0][1] and cools[0] >= last[1][0] and holds[0] >= last[2][0], (last, l)
    last = pairs
# Natural cooling ends where the table does: no curve drops to the room.
off = [p.split() for p in re.findall(r'd="M(630 [^"LZ]*)["]', open('rig.svg', encoding='utf-8').read())]
ends = [(float(p[-4]), float(p[-3]), float(p[-2]), float(p[-1])) for p in off]
assert len(ends) == 2 and all(x1 < x2 for x1, y1, x2, y2 in ends) and ends[0][3] == ends[1][3], ends
d = m.parse('rig.svg')
assert [t.firstChild.data for t in d.getElementsByTagName('text')].count('temperature, °C') == 3
)");
    CHECK(athanor({"rig", project + "/recipes/rigs/quartz_bench.ath", "--plot", "one.svg"}, scratch.path())
              .status == 2); // two rigs, one file
    CHECK(athanor({"rig", project + "/recipes/rigs/gradient_three.ath", "--rig", "nowhere"}, scratch.path())
              .status == 2);
}
