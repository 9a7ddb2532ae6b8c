// Findings as a person or a program reads them.
#include "compiler/source/render.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <string>

using namespace athanor;

namespace {

Diagnostic finding(Span span, std::string message) {
    Diagnostic d;
    d.code = Code::beyond_tube;
    d.rule = "beyond_tube";
    d.span = span;
    d.message = std::move(message);
    return d;
}

/// The span of the first `part` in the text of a file.
Span find(const Files& files, std::string_view part, FileId file = 0) {
    auto at = files[file].text().find(part);
    REQUIRE(at != std::string_view::npos);
    return {file, static_cast<std::uint32_t>(at), static_cast<std::uint32_t>(at + part.size())};
}

/// The lines of a rendering.
std::vector<std::string> lines(const std::string& text) {
    std::vector<std::string> list(1);
    for (char c : text) {
        if (c == '\n')
            list.emplace_back();
        else
            list.back() += c;
    }
    return list;
}

std::size_t characters(std::string_view text) {
    std::size_t n = 0;
    for (char c : text)
        if ((static_cast<unsigned char>(c) & 0xC0U) != 0x80U) ++n;
    return n;
}

/// The characters of the source line that stand above the carets.
std::string above_carets(const std::string& source, const std::string& carets) {
    std::size_t begin = carets.find('^'), end = carets.rfind('^') + 1;
    std::string out;
    std::size_t column = 0;
    for (std::size_t i = 0; i < source.size(); ++i) {
        if (i != 0 && (static_cast<unsigned char>(source[i]) & 0xC0U) != 0x80U) ++column;
        if (column >= begin && column < end) out += source[i];
    }
    return out;
}

} // namespace

TEST_CASE("a character that shows nothing is shown as a dot") {
    Files files;
    files.add("r.ath", "note \"\u202Enepo\u200B\"\n");
    const std::string shown = render_pretty(finding(find(files, "note"), "x"), files, false);
    CHECK_MESSAGE(shown.find("note \".nepo.\"") != std::string::npos, shown);
}

TEST_CASE("the framed form, whole") {
    Files files;
    files.add("a.ath", "recipe r {\n    ramp to 1300 °C at 5 K/min\n}\n");
    files.add("rig.ath", "limit 1100 degC\n");
    Diagnostic d = finding(find(files, "1300 °C"), "the tube stands 1100 °C");
    d.with_label("too hot").cause("fused quartz softens").remedy("ramp to 1100 °C at 5 K/min");
    d.also(find(files, "recipe"), "in this recipe").also(find(files, "1100 degC", 1), "limit stated here");
    CHECK(render_pretty(d, files, false) == "a.ath:2:13: error: the tube stands 1100 °C [beyond_tube]\n"
                                            "    2 |     ramp to 1300 °C at 5 K/min\n"
                                            "      |             ^^^^^^^ too hot\n"
                                            "   see a.ath:1:1: in this recipe\n"
                                            "    1 | recipe r {\n"
                                            "      | ^^^^^^\n"
                                            "   see rig.ath:1:7: limit stated here\n"
                                            "   cause: fused quartz softens\n"
                                            "   remedy: ramp to 1100 °C at 5 K/min\n");
}

TEST_CASE("carets stand under what they mean") {
    Files files;
    files.add("a.ath", "x ± 5 °C + y\n");
    auto unit = lines(render_pretty(finding(find(files, "°C"), "m"), files, false));
    CHECK(unit[1] == "    1 | x ± 5 °C + y");
    CHECK(unit[2] == "      |       ^^");
    CHECK(above_carets(unit[1], unit[2]) == "°C");
    auto name = lines(render_pretty(finding(find(files, "y"), "m"), files, false));
    CHECK(above_carets(name[1], name[2]) == "y");
    CHECK(name[0].substr(0, 11) == "a.ath:1:12:");
}

TEST_CASE("an empty span, the end of the text and an empty file still have one caret") {
    Files files;
    files.add("a.ath", "ab\n");
    files.add("empty.ath", "");
    CHECK(render_pretty(finding({0, 1, 1}, "m"), files, false) ==
          "a.ath:1:2: error: m [beyond_tube]\n    1 | ab\n      |  ^\n");
    CHECK(render_pretty(finding({1, 0, 0}, "m"), files, false) ==
          "empty.ath:1:1: error: m [beyond_tube]\n    1 | \n      | ^\n");
    auto end = lines(render_pretty(finding({0, 3, 3}, "m"), files, false));
    CHECK(end[1] == "    1 | ab");
    CHECK(end[2] == "      |   ^");
}

TEST_CASE("a span over several lines is marked on its first") {
    Files files;
    files.add("a.ath", "one {\r\ntwo\r\n}\r\n");
    CHECK(render_pretty(finding(find(files, "{\r\ntwo\r\n}"), "m"), files, false) ==
          "a.ath:1:5: error: m [beyond_tube]\n    1 | one {\n      |     ^\n");
}

TEST_CASE("a long line is cut to a window around the place") {
    Files files;
    std::string left, right;
    for (int i = 0; i < 300; ++i) left += "°";
    for (int i = 0; i < 300; ++i) right += "±";
    files.add("a.ath",
              left + "TARGET" + right + "\n" + std::string(400, 'a') + "\nEND" + std::string(300, 'b'));
    auto out = lines(render_pretty(finding(find(files, "TARGET"), "m"), files, false));
    CHECK(above_carets(out[1], out[2]) == "TARGET");
    CHECK(characters(out[1]) < 130);
    CHECK(out[1].find("…") != std::string::npos);
    CHECK(out[0].substr(0, 12) == "a.ath:1:301:"); // the column is the file's, not the window's
    // No character is cut in half.
    CHECK_NOTHROW((void)nlohmann::json(out[1]).dump());
    auto whole = lines(render_pretty(finding({0, 0, 900}, "m"), files, false));
    CHECK(characters(whole[2]) < 130);
    auto start = lines(render_pretty(finding(find(files, "END"), "m"), files, false));
    CHECK(above_carets(start[1], start[2]) == "END");
    CHECK(start[1].substr(0, 11) == "    3 | END");
}

TEST_CASE("a line of exactly the window's width is shown whole") {
    Files files;
    files.add("a.ath", std::string(99, 'a') + "b\n");
    auto out = lines(render_pretty(finding(find(files, "b"), "m"), files, false));
    CHECK(out[1] == "    1 | " + std::string(99, 'a') + "b");
    CHECK(above_carets(out[1], out[2]) == "b");
}

TEST_CASE("line numbers beyond the margin widen it") {
    Files files;
    files.add("a.ath", std::string(123455, '\n') + "abc\n");
    auto out = lines(render_pretty(finding(find(files, "abc"), "m"), files, false));
    CHECK(out[1] == " 123456 | abc");
    CHECK(out[2] == "        | ^^^");
}

TEST_CASE("control characters of a file or message never reach the terminal") {
    Files files;
    files.add("a.ath", "a\x1b[31m\tb\x7f\x01"
                       "c\n");
    Diagnostic d = finding(find(files, "b"), "m\x1b[2J\nx");
    d.with_label("l\x1b").cause("c\x07").remedy("r\x1b").also({0, 0, 1}, "s\x1b");
    std::string text = render_pretty(d, files, false) + render_short(d, files);
    for (char c : text) CHECK_FALSE((c != '\n' && static_cast<unsigned char>(c) < 0x20));
    CHECK(text.find('\x7f') == std::string::npos);
    auto out = lines(render_pretty(d, files, false));
    CHECK(out[1] == "    1 | a.[31m b..c");
    CHECK(out[2] == "      |        ^ l.");
    CHECK(lines(render_short(d, files)).size() == 1);
}

TEST_CASE("the C1 control characters are control characters too") {
    // U+009B is a control sequence introducer of one character (ECMA-48, 5th edition, section 5.3 and 8.3.16).
    Files files;
    files.add("a.ath", "a \xC2\x9B"
                       "31m b\n");
    std::string text = render_pretty(finding(find(files, "b"), "x \xC2\x9B"
                                                               "2J"),
                                     files, false);
    CHECK(text.find("\xC2\x9B") == std::string::npos);
}

TEST_CASE("a path cannot paint either") {
    Files files;
    files.add("a\x1b[31m.ath", "x\n");
    Diagnostic d = finding({0, 0, 1}, "m");
    d.also({0, 0, 1}, "there");
    CHECK(render_pretty(d, files, false).find('\x1b') == std::string::npos);
    CHECK(render_short(d, files).find('\x1b') == std::string::npos);
}

TEST_CASE("colour is added, nothing else changes") {
    Files files;
    files.add("a.ath", "ramp to 1300 °C\n");
    Diagnostic d = finding(find(files, "1300"), "too hot");
    d.with_label("here").cause("why").remedy("what").also({0, 0, 4}, "step");
    std::string plain = render_pretty(d, files, false), painted = render_pretty(d, files, true);
    CHECK(plain.find('\x1b') == std::string::npos);
    CHECK(painted.find("\x1b[1;31merror\x1b[0m") != std::string::npos);
    std::string stripped;
    for (std::size_t i = 0; i < painted.size(); ++i) {
        if (painted[i] == '\x1b')
            i = painted.find('m', i);
        else
            stripped += painted[i];
    }
    CHECK(stripped == plain);
    d.severity = Severity::warning;
    CHECK(render_pretty(d, files, true).find("\x1b[1;33mwarning\x1b[0m") != std::string::npos);
}

TEST_CASE("the short form is one line") {
    Files files;
    files.add("a.ath", "x °C y\n");
    Diagnostic d = finding(find(files, "y"), "message");
    CHECK(render_short(d, files) == "a.ath:1:6: error: message [beyond_tube]");
    d.severity = Severity::warning;
    d.rule = "dry_before_hot";
    CHECK(render_short(d, files) == "a.ath:1:6: warning: message [dry_before_hot]");
}

TEST_CASE("the JSON form, field by field") {
    Files files;
    files.add("a.ath", "ab\nx 5 °C y\n");
    Diagnostic d = finding(find(files, "°C"), "say \"no\"");
    d.with_label("l").cause("c").remedy("r").also(find(files, "ab"), "first").mend(find(files, "y"), "z");
    std::string text = render_json(d, files);
    CHECK(text.find('\n') == std::string::npos);
    auto json = nlohmann::json::parse(text);
    CHECK(json["severity"] == "error");
    CHECK(json["code"] == "beyond_tube");
    CHECK(json["message"] == "say \"no\"");
    CHECK(json["label"] == "l");
    CHECK(json["causes"] == nlohmann::json::array({"c"}));
    CHECK(json["remedies"] == nlohmann::json::array({"r"}));
    auto place = [](int line, int column, int end_line, int end_column, int begin, int end) {
        return nlohmann::json{
            {"path", "a.ath"},          {"line", line},   {"column", column}, {"end_line", end_line},
            {"end_column", end_column}, {"begin", begin}, {"end", end}};
    };
    CHECK(json["place"] == place(2, 5, 2, 7, 7, 10));
    REQUIRE(json["related"].size() == 1);
    CHECK(json["related"][0]["place"] == place(1, 1, 1, 3, 0, 2));
    CHECK(json["related"][0]["text"] == "first");
    CHECK(json["edit"]["place"] == place(2, 8, 2, 9, 11, 12));
    CHECK(json["edit"]["text"] == "z");
    CHECK(nlohmann::json::parse(render_json(finding({0, 0, 1}, "m"), files))["edit"].is_null());
}

TEST_CASE("JSON survives bytes that are no UTF-8, and control characters") {
    Files files;
    files.add("a\xFF.ath", "\xC3(\n");
    Diagnostic d = finding({0, 0, 2}, "broken \xFE byte \x01\x1b");
    d.with_label("\xC2").cause("\xED\xA0\x80").remedy("\x80").also({0, 0, 1}, "\xFF");
    d.mend({0, 0, 1}, "\xF5");
    std::string text = render_json(d, files);
    auto json = nlohmann::json::parse(text); // throws on invalid UTF-8 or a raw control character
    CHECK(json["message"] == "broken \xEF\xBF\xBD byte \x01\x1b"); // U+FFFD stands for the byte
    CHECK(text.find('\x1b') == std::string::npos);
    CHECK_NOTHROW((void)render_pretty(d, files, false));
}
