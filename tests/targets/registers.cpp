// Register maps: values in 16-bit words, an order that is safe to break off, and a transfer over Modbus TCP.
#include "targets/registers/registers.hpp"
#include "grammar/parse.hpp"
#include "targets/declared.hpp"
#include "tests/targets/sample.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <fmt/format.h>

#include <fstream>
#include <sstream>

using namespace sample;
namespace registers = targets::registers;
using registers::Map;

namespace {

const std::string map_text =
    "layout bus for bench_controller {\n    form registers ; words low_first\n"
    "    programme_stride 400 ; segment_stride 20\n"
    "    kinds { ramp 1 ; dwell 2 ; step 3 ; operator 4 ; end 9 }\n"
    "    register enable { address 5 ; type uint16 ; off 0 ; on 17 }\n"
    "    register segments { address 100 ; type uint16 }\n"
    "    register next_program { address 101 ; type uint16 }\n"
    "    register threshold_output { address 102 ; type uint16 }\n"
    "    register threshold_temperature { address 103 ; type int16 ; scale 0.1 degC }\n"
    "    register threshold_above { address 104 ; type uint16 }\n"
    "    register kind { address 110 ; type int16 }\n"
    "    register target { address 111 ; type int16 ; scale 0.1 degC ; none -1 }\n"
    "    register rate { address 112 ; type float32 ; scale 1 K/min }\n"
    "    register dwell { address 114 ; type uint32 ; scale 1 s ; none 4294967295 }\n"
    "    register soak_band { address 116 ; type uint16 ; scale 1 K }\n"
    "    register outputs { address 117 ; type uint16 ; of argon, hydrogen, burner }\n"
    "    register loop_start { address 118 ; type uint16 }\n"
    "    register loop_passes { address 119 ; type uint16 }\n}\n";

/// The bench programme with no two loops that end at one segment: one pair of registers holds one loop.
program::Program bench_program() {
    program::Program p = bench();
    p.parts[0].loops.pop_back();
    return p;
}

std::string replaced(std::string text, const std::string& from, const std::string& to) {
    std::size_t at = text.find(from);
    REQUIRE_MESSAGE(at != std::string::npos, from);
    return text.replace(at, from.size(), to);
}

std::optional<Map> map_of(const std::string& text, std::string* told = nullptr) {
    Files files;
    Diagnostics out;
    FileId id = files.add("map.ath", text);
    Tree tree = parse(id, files, out);
    NodeId layout = tree.child(tree.root, Node::layout);
    std::optional<Map> map = registers::read_declaration(tree, layout, files, out);
    for (const Diagnostic& d : out.all())
        if (told)
            *told += fmt::format("{}: {}\n", name(d.code), d.message);
        else
            FAIL_CHECK(d.message);
    return map;
}
Map good_map() {
    std::optional<Map> map = map_of(map_text);
    REQUIRE(map);
    return *map;
}
std::string told(const std::string& from, const std::string& to) {
    std::string said;
    map_of(replaced(map_text, from, to), &said);
    return said;
}
std::string lost(const std::string& from, const std::string& to, const program::Program& p = bench_program()) {
    std::optional<Map> map = map_of(replaced(map_text, from, to));
    REQUIRE(map);
    std::string said;
    for (const targets::Loss& loss : registers::losses(*map, p, context()))
        said += fmt::format("{}: {}\n", name(loss.code), loss.message);
    return said;
}

std::map<std::uint16_t, std::uint16_t> memory_of(const std::vector<registers::Write>& list) {
    std::map<std::uint16_t, std::uint16_t> memory;
    for (const registers::Write& write : list) memory[write.address] = write.value;
    return memory;
}

} // namespace

TEST_CASE("values in words") {
    Map map;
    using Words = std::vector<std::uint16_t>;
    CHECK(registers::pack(map, registers::Type::int16, -1) == Words{0xFFFF});
    CHECK(registers::pack(map, registers::Type::uint16, 65535) == Words{0xFFFF});
    CHECK(registers::pack(map, registers::Type::int32, -2) == Words{0xFFFF, 0xFFFE});
    CHECK(registers::pack(map, registers::Type::uint32, 4294967295.0) == Words{0xFFFF, 0xFFFF});
    // ISO/IEC 60559 (IEEE 754), binary32: 1 is 3F800000, -2 is C0000000, 0.15625 is 3E200000.
    CHECK(registers::pack(map, registers::Type::float32, 1) == Words{0x3F80, 0x0000});
    CHECK(registers::pack(map, registers::Type::float32, -2) == Words{0xC000, 0x0000});
    CHECK(registers::pack(map, registers::Type::float32, 0.15625) == Words{0x3E20, 0x0000});
    map.high_first = false;
    CHECK(registers::pack(map, registers::Type::int32, 65537 * 2 + 1) == Words{0x0003, 0x0002});
    for (bool high : {true, false}) {
        map.high_first = high;
        for (registers::Type type : {registers::Type::int16, registers::Type::uint16, registers::Type::int32,
                                     registers::Type::uint32, registers::Type::float32}) {
            auto [lo, hi] = registers::range(type);
            for (double value : {static_cast<double>(lo), static_cast<double>(hi), 0.0, 1.0, 300.0})
                CHECK(registers::unpack(map, type, registers::pack(map, type, value)) == value);
        }
    }
}

TEST_CASE("a programme in registers reads back equal") {
    Map map = good_map();
    program::Program p = bench_program();
    for (const targets::Loss& loss : registers::losses(map, p, context())) FAIL_CHECK(loss.message);
    std::string bytes = registers::write(map, p, context(), "bench")[0].bytes;
    CAPTURE(bytes);
    targets::ReadError error;
    auto back = registers::read(map, bytes, p, error);
    CAPTURE(error.message);
    REQUIRE(back);
    CHECK(keyed(*back) == keyed(p));
    CHECK(registers::write(map, p, context(), "bench")[0].bytes == bytes);
    // The 300.5 degC of segment 2, the 4.1 K/min as the nearest binary32, low word first.
    auto memory = [&] {
        std::vector<targets::Loss> losses;
        return memory_of(registers::writes(map, p, losses));
    }();
    CHECK(memory.at(131) == 3005);
    CHECK(memory.at(132) == 0x3333);
    CHECK(memory.at(133) == 0x4083);
    CHECK(memory.at(100) == 6);
    CHECK(memory.at(100 + 2 * 400) == 2); // programme 3
}

TEST_CASE("a transfer that breaks off anywhere leaves nothing that can be started") {
    Map map = good_map();
    std::vector<targets::Loss> losses;
    std::vector<registers::Write> list = registers::writes(map, bench_program(), losses);
    REQUIRE(losses.empty());
    REQUIRE(list.size() > 80);
    std::map<std::uint16_t, std::uint16_t> memory{{5, 17}}; // the old programme was allowed
    for (std::size_t i = 0; i < list.size(); ++i) {
        memory[list[i].address] = list[i].value;
        CHECK(memory[5] == (i + 1 == list.size() ? 17 : 0));
        // Nor does a programme say that it holds segments while some are still the old ones.
        if (i + 4 < list.size()) CHECK(memory[100] == 0);
    }
}

TEST_CASE("writes in another order are refused") {
    Map map = good_map();
    program::Program p = bench_program();
    std::string bytes = registers::write(map, p, context(), "bench")[0].bytes;
    auto refused = [&](auto change) {
        nlohmann::json json = nlohmann::json::parse(bytes);
        change(json["writes"]);
        targets::ReadError error;
        CHECK_FALSE(registers::read(map, json.dump(), p, error));
        return error.message;
    };
    CHECK(refused([](auto& w) { w.erase(0); }).find("does not shut") != std::string::npos);
    CHECK(refused([](auto& w) { w.erase(w.size() - 1); }).find("does not allow") != std::string::npos);
    CHECK(refused([](auto& w) { w.insert(w.begin() + 9, w.back()); }).find("half-way") != std::string::npos);
    CHECK(refused([](auto& w) { w[40]["value"] = 70000; }).find("none of 0 to 65535") != std::string::npos);
    CHECK(refused([](auto& w) { w = nullptr; }) != "");
}

TEST_CASE("what does not fit is refused with figures") {
    CHECK(lost("uint16 ; scale 1 K }", "uint16 ; scale 10 K }") ==
          "layout_loses: register soak_band cannot hold programme 1, segment 3, soak_band: 5 K: it is no "
          "multiple of 10 K\n");
    CHECK(lost("int16 ; scale 0.1 degC ; none", "int16 ; scale 0.005 degC ; none")
              .starts_with(
                  "value_not_settable: register target (int16 in 0.005 degC) takes -163.84 degC to 163.835 "
                  "degC; needed is programme 1, segment 2, target: 300.5 degC"));
    CHECK(lost("segment_stride 20", "segment_stride 8").find("the strides are too short") != std::string::npos);
    CHECK(lost("programme_stride 400", "programme_stride 40000").find("the last one is 65535") !=
          std::string::npos);
    CHECK(lost("; operator 4 ", "").starts_with("layout_loses: `kinds` has no operator"));
    CHECK(lost("none -1", "none 230").find("stands for nothing") != std::string::npos);
    CHECK(lost(" of argon, hydrogen, burner", " of argon, hydrogen")
              .starts_with(
                  "layout_loses: register map bus loses what is keyed: nothing holds output 4 (burner)"));
    CHECK(
        lost("    register next_program { address 101 ; type uint16 }\n", "").find("programme that follows") !=
        std::string::npos);
    CHECK(lost("words low_first", "words high_first", bench()).find("two loops end") != std::string::npos);
}

TEST_CASE("what is wrong with a map is said") {
    CHECK(told("    register enable { address 5 ; type uint16 ; off 0 ; on 17 }\n", "")
              .starts_with("value_missing: a register map needs `register enable"));
    CHECK(told("off 0 ; on 17", "off 1 ; on 1").starts_with("rig_inconsistent: "));
    CHECK(told("register kind { address 110 ; type int16 }", "register kind { type int16 }")
              .find("value_missing: register kind has no address") != std::string::npos);
    CHECK(told("scale 1 K/min", "scale 1 K").starts_with("unit_mismatch: "));
    CHECK(told("type int16 ; scale 0.1 degC ; none -1", "type int16 ; none -1")
              .starts_with("value_missing: register target needs `scale`"));
    CHECK(told("register next_program", "register next_programme").starts_with("unknown_name: "));
    CHECK(
        told("kinds { ramp 1 ; dwell 2", "kinds { ramp 1 ; dwell 1").starts_with("duplicate_name: two kinds"));
    CHECK(told("address 101 ; type uint16", "address 70000 ; type uint16")
              .starts_with("unknown_property: `address` takes"));
    CHECK(
        told("address 101 ; type uint16", "address 101 ; type float32").starts_with("unit_mismatch: a count"));
    CHECK(told("none -1", "none 40000").starts_with("value_not_settable: 40000 does not fit int16"));
}

TEST_CASE("written over Modbus TCP and read back, the registers hold the programme") {
    // Server and client are python3-pymodbus; see tests/targets/modbus.py.
    Map map = good_map();
    program::Program p = bench_program();
    Folder folder;
    std::ofstream(folder.path + "/writes.csv", std::ios::binary)
        << registers::write(map, p, context(), "bench")[1].bytes;
    std::string command = fmt::format(
        "timeout 60 /usr/bin/python3 {1}/tests/targets/modbus.py {0}/writes.csv > {0}/out 2> {0}/err",
        folder.path, ATHANOR_ROOT);
    int status = std::system(command.c_str());
    std::string said = contents(folder.path + "/out");
    REQUIRE_MESSAGE(status == 0, contents(folder.path + "/err"));
    std::map<std::uint16_t, std::uint16_t> memory;
    std::istringstream lines(said);
    for (unsigned address = 0, value = 0; lines >> address >> value;)
        memory[static_cast<std::uint16_t>(address)] = static_cast<std::uint16_t>(value);
    REQUIRE(memory.size() > 80);
    targets::ReadError error;
    auto back = registers::decode(map, memory, {}, p, error);
    CAPTURE(error.message);
    REQUIRE(back);
    CHECK(keyed(*back) == keyed(p));
    CHECK(memory.at(5) == 17);
}
