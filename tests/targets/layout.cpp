// Forms that users declare: what they cannot hold is said, what they hold comes back exactly.
#include "targets/layout/layout.hpp"
#include "grammar/parse.hpp"
#include "targets/declared.hpp"
#include "tests/targets/sample.hpp"

#include <doctest/doctest.h>

#include <fmt/format.h>

#include <random>

using namespace sample;
using targets::Declared;
using targets::layout::Measure;

namespace {

struct Declaration {
    Files files;
    Diagnostics out;
    std::vector<Declared> list;

    explicit Declaration(const std::string& text) {
        FileId id = files.add("layouts.ath", text);
        Tree tree = parse(id, files, out);
        list = targets::declared_targets(tree, files, out);
    }
    const targets::Target& target() {
        for (const Diagnostic& d : out.all()) FAIL_CHECK(d.message);
        REQUIRE(list.size() == 1);
        return list[0].target;
    }
};

/// Everything that a table of the two samples can hold.
const std::string heads[3] = {
    "layout whole { form columns ; delimiter \";\" ; decimal \",\" ; comment \"#\"\n",
    "layout whole { form fixed ; header no\n",
    "layout whole { form blocks ; block \"(step)\" ; assign \": \" ; line_end lf ; empty \"none\"\n"};
const std::string bench_columns[] = {"column \"programme \" = program",
                                     "column \"segment  \" = segment",
                                     "column \"kind_of_row\" = kind",
                                     "column \"target_in_F\" = target in degF",
                                     "column \"rate_per_h  \" = rate in K/h by 0.1",
                                     "column \"duration_in_h \" = duration in min by 0.001",
                                     "column \"band in F \" = soak_band in degF",
                                     "column \"bits\" = outputs as bits (argon, hydrogen, burner)",
                                     "column \"back    \" = loop_start",
                                     "column \"passes  \" = loop_passes",
                                     "column \"next  \" = next_program",
                                     "column \"words\" = instruction"};
std::string bench_layout(const std::string& head, std::size_t without = 99) {
    std::string text = head;
    for (std::size_t i = 0; i < std::size(bench_columns); ++i)
        if (i != without) text += bench_columns[i] + "\n";
    return text + "}\n";
}
const std::string zones_columns =
    "column \"PROGRAM\" = program\ncolumn \"NO   \" = segment\ncolumn \"KIND_OF_SEGMENT\" = kind\n"
    "column \"LEFT    \" = target as zone (left) in degC\ncolumn \"RIGHT    \" = target as zone (right) in "
    "degC\n"
    "column \"RAMP_S    \" = duration\ncolumn \"DWELL_S    \" = dwell\n"
    "column \"ARGON    \" = channel in slm (argon) by 0.0001\ncolumn \"TEXT\" = instruction\n}\n";

program::Program one_line_texts(program::Program p) {
    for (program::Part& part : p.parts)
        for (program::Segment& s : part.segments)
            std::replace(s.instruction.begin(), s.instruction.end(), '\n', ' ');
    return p;
}

std::string told(const std::string& text) {
    Declaration declaration(text);
    std::string out;
    for (const Diagnostic& d : declaration.out.all()) out += fmt::format("{}: {}\n", name(d.code), d.message);
    return out;
}

} // namespace

TEST_CASE("three forms hold all of two programmes") {
    for (const std::string& head : heads)
        for (bool several : {false, true}) {
            program::Program p = one_line_texts(several ? zones() : bench());
            Declaration declaration(several ? head + zones_columns : bench_layout(head));
            const targets::Target& target = declaration.target();
            for (const targets::Loss& loss : target.losses(p, context())) FAIL_CHECK(head << loss.message);
            std::string bytes = target.write(p, context(), "bench")[0].bytes;
            CAPTURE(bytes);
            targets::ReadError error;
            auto back = target.read(bytes, p, error);
            CAPTURE(error.line);
            CAPTURE(error.message);
            REQUIRE(back);
            CHECK(keyed(*back) == keyed(p));
            CHECK(target.write(p, context(), "bench")[0].bytes == bytes);
        }
}

TEST_CASE("whatever column is left out, what steers the process is missed by name") {
    program::Program p = one_line_texts(bench());
    for (const std::string& head : heads) {
        std::string silent;
        for (std::size_t i = 0; i < std::size(bench_columns); ++i) {
            Declaration declaration(bench_layout(head, i));
            std::vector<targets::Loss> losses = declaration.target().losses(p, context());
            if (losses.empty()) silent += bench_columns[i] + "\n";
            for (const targets::Loss& loss : losses) CHECK(loss.code == Code::layout_loses);
        }
        // A number that follows from the order of the rows, and words, are no loss.
        CHECK(silent == bench_columns[1] + "\n" + bench_columns[11] + "\n");
    }
    auto first = [&](std::size_t without) {
        Declaration declaration(bench_layout(heads[0], without));
        return declaration.target().losses(p, context()).at(0).message;
    };
    CHECK(first(4).find("ramp") != std::string::npos);
    CHECK(first(6) ==
          "layout whole loses what is keyed: programme 1, segment 3: soak band: 5 K is read back as nothing");
    CHECK(first(7) ==
          "layout whole loses what is keyed: nothing holds output 1 (argon), output 2 (hydrogen), output 4 "
          "(burner)");
    CHECK(first(10).find("programme that follows") != std::string::npos);
}

TEST_CASE("a hand-over that a column cuts is a loss") {
    Declaration declaration("layout l { form fixed\n" +
                            zones_columns.substr(0, zones_columns.find("column \"TEXT\"")) + "}");
    CHECK_FALSE(declaration.target().losses(zones(), context()).empty());
}

TEST_CASE("a figure that is no multiple of the column's step is a loss with figures") {
    std::string text = bench_layout(heads[0]);
    text.replace(text.find("by 0.001"), 8, "by 7");
    Declaration declaration(text);
    std::vector<targets::Loss> losses = declaration.target().losses(one_line_texts(bench()), context());
    REQUIRE(losses.size() == 2);
    CHECK(losses[0].message == "column \"duration_in_h \" cannot hold 3600 s: it is no multiple of 7 min");
}

TEST_CASE("without a column for kinds they follow from what is keyed, or are missed") {
    program::Program p = bench();
    p.parts = {p.parts[1]};
    p.parts[0].number = 1;
    p.parts[0].segments[0].dwell = 3;
    program::Segment ramp = p.parts[0].segments[0];
    ramp.kind = program::SegmentKind::ramp;
    ramp.targets = {600};
    ramp.rates = {40};
    ramp.dwell = -1;
    p.parts[0].segments.insert(p.parts[0].segments.begin() + 1, ramp);
    const std::string text = "layout rows { delimiter \";\" ; decimal \",\" ; header yes\n"
                             "column \"No\" = segment\ncolumn \"SP\" = target in degC by 0.5\n"
                             "column \"Minutes\" = duration in min by 0.1\ncolumn \"Rate\" = rate in K/h by 1\n"
                             "column \"Gas\" = outputs as bits (argon, hydrogen, burner)\n}";
    Declaration declaration(text);
    for (const targets::Loss& loss : declaration.target().losses(p, context())) FAIL_CHECK(loss.message);
    CHECK(declaration.target().write(p, context(), "x")[0].bytes ==
          "No;SP;Minutes;Rate;Gas\r\n1;20;3;;100\r\n2;300;0;246;100\r\n3;20;;;100\r\n");
    // A step looks like a dwell to such a reader.
    p.parts[0].segments[1].kind = program::SegmentKind::operator_wait;
    p.parts[0].segments[1].rates.clear();
    CHECK_FALSE(declaration.target().losses(p, context()).empty());
}

TEST_CASE("units are exact in both directions") {
    auto scale = [](const char* unit, Measure measure, const char* step = nullptr) {
        auto found = targets::layout::scale_in(*unit_named(unit), measure);
        REQUIRE(found);
        if (step) found->step = Decimal::parse(step);
        return *found;
    };
    auto shown = [](const targets::layout::Scale& s, const char* text) {
        return targets::layout::shown(s, *Decimal::parse(text)).value_or("-");
    };
    auto back = [](const targets::layout::Scale& s, const char* text) {
        return targets::layout::table_figure(s, *Decimal::parse(text)).value_or(Decimal{-1, 0}).text();
    };
    // Conversions of NIST SP 811 (2008), appendix B: t/degF = 1.8 t/degC + 32; 1 degF is 5/9 K.
    auto fahrenheit = scale("degF", Measure::temperature);
    CHECK(shown(fahrenheit, "100") == "212");
    CHECK(shown(fahrenheit, "-40") == "-40");
    CHECK(shown(fahrenheit, "0.5") == "32.9");
    CHECK(back(fahrenheit, "212") == "100");
    CHECK(back(fahrenheit, "32.9") == "0.5");
    CHECK(shown(scale("K", Measure::temperature), "25") == "298.15");
    CHECK(shown(scale("degF", Measure::difference), "5") == "9");
    CHECK(shown(scale("degF/min", Measure::rate), "5") == "9");
    CHECK(shown(scale("K/h", Measure::rate), "4.1") == "246");
    CHECK(back(scale("K/h", Measure::rate), "246") == "4.1");
    CHECK(shown(scale("h", Measure::time), "5400") == "1.5");
    CHECK(shown(scale("min", Measure::time), "100") == "-"); // 1.666… has no end
    CHECK(shown(scale("min", Measure::time, "0.1"), "90") == "1.5");
    CHECK(shown(scale("min", Measure::time, "0.1"), "91") == "-");
    CHECK(shown(scale("slm", Measure::flow), "400") == "0.4");
    CHECK_FALSE(targets::layout::scale_in(*unit_named("min"), Measure::rate));
    CHECK_FALSE(targets::layout::scale_in(*unit_named("bar"), Measure::temperature));
    std::mt19937 random(7);
    for (int i = 0; i < 2000; ++i) {
        Decimal value{static_cast<std::int64_t>(random() % 2000000), -2};
        for (const auto& s : {fahrenheit, scale("K", Measure::temperature)}) {
            auto text = targets::layout::shown(s, value);
            REQUIRE(text);
            CHECK(targets::layout::table_figure(s, *Decimal::parse(*text))->text() == value.text());
        }
    }
}

TEST_CASE("what is wrong with a declaration is said at its place") {
    CHECK(told("layout l { column \"a\" = tarjet }")
              .starts_with("unknown_name: a column holds one of program, "));
    CHECK(told("layout l { column \"a\" = target in bar }")
              .starts_with("unit_mismatch: bar has no exact ratio to degC"));
    CHECK(
        told("layout l { column \"a\" = kind in degC }").starts_with("unit_mismatch: this column has no unit"));
    CHECK(told("layout l { column \"a\" = target ; column \"a\" = kind }").starts_with("duplicate_name: "));
    CHECK(told("layout l { header yes }").starts_with("value_missing: a layout without a column"));
    CHECK(told("layout l { colour \"red\" ; column \"a\" = kind }")
              .starts_with("unknown_property: a layout has no `colour`"));
    CHECK(told("layout l { form round ; column \"a\" = kind }")
              .starts_with("unknown_property: `form` takes columns or"));
    CHECK(told("layout l { delimiter \",\" ; decimal \",\" ; column \"a\" = kind }")
              .starts_with("unknown_property: `delimiter`"));
    CHECK(told("layout l { ending \"../x\" ; column \"a\" = kind }").starts_with("unknown_property: `ending`"));
    CHECK(told("layout l { column \"a\" = outputs as bits }").starts_with("value_missing: which outputs"));
    CHECK(told("layout l { kinds { ramp \"R\" ; dwell \"R\" } ; column \"a\" = kind }")
              .starts_with("duplicate_name: two kinds"));
    CHECK(told("layout l { column \"a\" = target in degC by 0.5 K/min }").starts_with("unit_mismatch: "));
}

TEST_CASE("damaged layouts: refused with a message, or read and written again") {
    std::mt19937 random(20240621);
    auto pick = [&](std::size_t n) { return std::uniform_int_distribution<std::size_t>(0, n - 1)(random); };
    int read = 0, refused = 0;
    program::Program p = one_line_texts(bench());
    for (const std::string& head : heads) {
        Declaration declaration(bench_layout(head));
        const targets::Target& target = declaration.target();
        std::string good = target.write(p, context(), "bench")[0].bytes;
        for (int i = 0; i < 800; ++i) {
            std::string bytes = good;
            for (std::size_t n = 1 + pick(3); n > 0; --n) {
                std::size_t at = pick(bytes.size());
                static const std::string letters = ";,\"\n 0123456789.-:\xC3\xFF";
                if (pick(3) == 0)
                    bytes.erase(at, 1 + pick(6));
                else
                    bytes[at] = letters[pick(letters.size())];
            }
            targets::ReadError error;
            auto back = target.read(bytes, p, error);
            back ? ++read : ++refused;
            if (!back) CHECK(!error.message.empty());
        }
    }
    CHECK(read > 0);
    CHECK(refused > 0);
}
