#include "compiler/source/render.hpp"
#include "compiler/source/invisible.hpp"

#include <nlohmann/json.hpp>

#include <algorithm>

namespace athanor {
namespace {

struct Paint {
    bool on;
    std::string operator()(const char* code, std::string_view text) const {
        if (!on) return std::string(text);
        return std::string("\x1b[") + code + 'm' + std::string(text) + "\x1b[0m";
    }
};

std::size_t code_points(std::string_view text) {
    return static_cast<std::size_t>(std::count_if(
        text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

/// A control character would let a file paint on the terminal of whoever checks it.
std::string printable(std::string_view text) {
    std::string out;
    for (std::size_t i = 0; i < text.size(); ++i) {
        const char c = text[i];
        if (const Invisible hidden = invisible_at(text, i); hidden.size != 0) {
            out += '.';
            i += hidden.size - 1;
        } else if (c == '\t')
            out += ' ';
        else if (static_cast<unsigned char>(c) < 0x20) // line ends
            out += '.';
        else
            out += c;
    }
    return out;
}

/// A word of a message that nobody reads to its end, a number of a thousand digits, is cut in its middle.
std::string legible(std::string_view text) {
    constexpr std::size_t longest = 300, head = 60, tail = 20;
    const auto inside = [&](std::size_t at) { return (static_cast<unsigned char>(text[at]) & 0xC0U) == 0x80U; };
    std::string out;
    for (std::size_t begin = 0; begin < text.size();) {
        const std::size_t end = std::min(text.find(' ', begin), text.size());
        if (end - begin <= longest) {
            out += text.substr(begin, end - begin);
        } else {
            std::size_t left = begin + head, right = end - tail;
            while (left < right && inside(left)) ++left;
            while (right < end && inside(right)) ++right;
            out += text.substr(begin, left - begin);
            out += "…";
            out += text.substr(right, end - right);
        }
        if (end < text.size()) out += ' ';
        begin = end + 1;
    }
    return out;
}

std::string shown(std::string_view text) {
    return printable(legible(text));
}

/// The source line with carets under the span; a long line is cut to a window around the span.
std::string frame(Span span, std::string_view label, const Files& files, const Paint& paint,
                  const char* colour) {
    constexpr std::size_t window = 100;
    const File& file = files[span.file];
    Position at = file.position(span.begin);
    std::string_view line = file.line(at.line);
    std::size_t begin = std::min<std::size_t>(span.begin - file.line_start(at.line), line.size());
    std::size_t end = std::min<std::size_t>(span.end - file.line_start(at.line), line.size());
    std::string_view dots;
    if (line.size() > window) {
        std::size_t cut = begin > window / 2 ? begin - window / 2 : 0;
        while (cut > 0 && (static_cast<unsigned char>(line[cut]) & 0xC0U) == 0x80U) --cut;
        line.remove_prefix(cut);
        begin -= cut;
        end -= cut;
        std::size_t keep = std::min(line.size(), window);
        while (keep < line.size() && (static_cast<unsigned char>(line[keep]) & 0xC0U) == 0x80U) ++keep;
        line = line.substr(0, keep);
        end = std::min(end, line.size());
        if (cut != 0) dots = "…";
    }
    std::string number = std::to_string(at.line);
    std::string margin(std::max<std::size_t>(5, number.size() + 1), ' ');
    std::string out = std::string(margin.size() - number.size(), ' ') + number + " | " + std::string(dots) +
                      printable(line) + '\n';
    std::size_t lead = code_points(line.substr(0, begin)) + (dots.empty() ? 0 : 1);
    std::size_t carets =
        std::max<std::size_t>(1, code_points(line.substr(begin, end > begin ? end - begin : 0)));
    out += margin + " | " + std::string(lead, ' ') + paint(colour, std::string(carets, '^'));
    if (!label.empty()) out += ' ' + shown(label);
    return out + '\n';
}

} // namespace

std::string render_short(const Diagnostic& d, const Files& files) {
    return printable(files.place(d.span)) + ": " + std::string(name(d.severity)) + ": " + shown(d.message) +
           " [" + d.rule + ']';
}

std::string render_pretty(const Diagnostic& d, const Files& files, bool colour) {
    Paint paint{colour};
    const char* tone = d.severity == Severity::error ? "1;31" : "1;33";
    std::string out = paint("1", printable(files.place(d.span))) + ": " + paint(tone, name(d.severity)) + ": " +
                      shown(d.message) + " [" + d.rule + "]\n";
    out += frame(d.span, d.label, files, paint, tone);
    for (const Label& label : d.related) {
        out += "   " + paint("36", "see") + " " + printable(files.place(label.span)) + ": " +
               shown(label.text) + '\n';
        if (label.span.file == d.span.file) out += frame(label.span, "", files, paint, "36");
    }
    for (const std::string& cause : d.causes) out += "   " + paint("36", "cause:") + ' ' + shown(cause) + '\n';
    for (const std::string& remedy : d.remedies)
        out += "   " + paint("32", "remedy:") + ' ' + shown(remedy) + '\n';
    return out;
}

std::string render_json(const Diagnostic& d, const Files& files) {
    using Json = nlohmann::ordered_json;
    auto place = [&](Span span) {
        const File& file = files[span.file];
        Position begin = file.position(span.begin), end = file.position(span.end);
        return Json{{"path", file.path()},  {"line", begin.line},       {"column", begin.column},
                    {"end_line", end.line}, {"end_column", end.column}, {"begin", span.begin},
                    {"end", span.end}};
    };
    Json out;
    out["severity"] = name(d.severity);
    out["code"] = d.rule;
    out["message"] = legible(d.message);
    out["place"] = place(d.span);
    out["label"] = legible(d.label);
    out["related"] = Json::array();
    for (const Label& label : d.related)
        out["related"].push_back({{"place", place(label.span)}, {"text", legible(label.text)}});
    for (const char* list : {"causes", "remedies"}) {
        out[list] = Json::array();
        for (const std::string& text : *list == 'c' ? d.causes : d.remedies) out[list].push_back(legible(text));
    }
    out["edit"] = nullptr;
    if (d.edit) out["edit"] = {{"place", place(d.edit->span)}, {"text", d.edit->text}};
    // Bytes of a broken file must not break the message about it.
    return out.dump(-1, ' ', false, Json::error_handler_t::replace);
}

} // namespace athanor
