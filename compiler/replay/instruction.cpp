#include "compiler/replay/instruction.hpp"

#include <algorithm>
#include <optional>
#include <utility>

namespace athanor::replay {
namespace {

/// Takes `front` off the beginning; false where it is not there.
bool take(std::string_view& text, std::string_view front) {
    if (!text.starts_with(front)) return false;
    text.remove_prefix(front.size());
    return true;
}

bool is_name(std::string_view text) {
    return !text.empty() && std::all_of(text.begin(), text.end(), [](char c) {
        return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '_';
    });
}

/// A figure with its unit, no more: it goes into a recipe as it stands.
bool is_quantity(std::string_view text) {
    if (text.empty() || !((text[0] >= '0' && text[0] <= '9') || text[0] == '-' || text[0] == '.')) return false;
    return text.find_first_of("\"#;{}\n") == std::string_view::npos;
}

std::optional<Word> order(std::string_view part) {
    if (after_end(part)) return Word{Order::after_end, "", std::string(part)};
    if (part.ends_with(" by hand")) part.remove_suffix(8);
    if (part == "light burner") return Word{Order::light, "", ""};
    if (part == "shut burner") return Word{Order::shut, "", ""};
    if (part == "start pump") return Word{Order::start_pump, "", ""};
    if (part == "stop pump") return Word{Order::stop_pump, "", ""};
    if (part == "tube may be opened") return Word{Order::open_tube, "", ""};
    if (part == "end pressure regulation") return Word{Order::regulate, "", ""};
    if (take(part, "regulate pressure to ")) {
        if (is_quantity(part)) return Word{Order::regulate, "", std::string(part)};
        return std::nullopt;
    }
    if (take(part, "move the sample to ")) {
        if (is_name(part)) return Word{Order::move, "", std::string(part)};
        return std::nullopt;
    }
    Word word;
    std::string_view between = " at ";
    if (take(part, "open "))
        word.order = Order::open;
    else if (take(part, "close "))
        word.order = Order::close;
    else if (take(part, "set "))
        word.order = Order::set, between = " to ";
    else if (take(part, "lead "))
        word.order = Order::humidify, between = " through the bath at ";
    else
        return std::nullopt;
    std::size_t at = part.find(between);
    word.line = std::string(part.substr(0, at));
    if (!is_name(word.line)) return std::nullopt;
    if (at == std::string_view::npos)
        return word.order == Order::open || word.order == Order::close ? std::optional(word) : std::nullopt;
    word.value = std::string(part.substr(at + between.size()));
    if (word.order == Order::close || !is_quantity(word.value)) return std::nullopt;
    return word;
}

} // namespace

std::vector<Word> words_of(std::string_view instruction) {
    std::vector<Word> list;
    while (!instruction.empty()) {
        std::size_t end = instruction.find("; ");
        std::string_view part = instruction.substr(0, end);
        instruction.remove_prefix(end == std::string_view::npos ? instruction.size() : end + 2);
        if (std::optional<Word> word = order(part))
            list.push_back(std::move(*word));
        else if (!list.empty() && list.back().order == Order::text)
            list.back().value += "; " + std::string(part);
        else
            list.push_back({Order::text, "", std::string(part)});
    }
    return list;
}

std::string threshold_flow(std::string_view instruction) {
    constexpr std::string_view mark = ", at ";
    std::size_t at = instruction.find(mark);
    if (at == std::string_view::npos) return "";
    std::string_view flow = instruction.substr(at + mark.size());
    return is_quantity(flow) ? std::string(flow) : "";
}

bool threshold_closes(std::string_view instruction) {
    return instruction.starts_with("close ");
}

std::optional<ThresholdWords> threshold_words(std::string_view instruction) {
    ThresholdWords words;
    words.opens = !threshold_closes(instruction);
    if (words.opens && !take(instruction, "open ")) return std::nullopt;
    if (!words.opens) take(instruction, "close ");
    const std::size_t blank = instruction.find(' ');
    if (blank == std::string_view::npos) return std::nullopt;
    words.line = std::string(instruction.substr(0, blank));
    instruction.remove_prefix(blank);
    words.above = instruction.starts_with(" above ");
    if (!words.above && !instruction.starts_with(" below ")) return std::nullopt;
    instruction.remove_prefix(std::string_view(" above ").size());
    words.temperature = std::string(instruction.substr(0, instruction.find(", ")));
    if (!is_name(words.line) || !is_quantity(words.temperature)) return std::nullopt;
    return words;
}

std::optional<AfterEnd> after_end(std::string_view part) {
    using Goes = AfterEnd::Goes;
    if (!take(part, "at the end ")) return std::nullopt;
    constexpr std::pair<std::string_view, Goes> ways[] = {
        {" falls closed", Goes::closed},
        {" falls open and flows until it is shut by hand", Goes::open},
        {" falls open and stays open until it is shut by hand", Goes::open},
        {" flows on until it is shut by hand", Goes::on},
        {" stays open until it is shut by hand", Goes::on},
    };
    for (const auto& [words, goes] : ways) {
        if (!part.ends_with(words)) continue;
        const std::string_view subject = part.substr(0, part.size() - words.size());
        if (is_name(subject) || subject == "the burner's feed" || subject == "the pump's valve")
            return AfterEnd{goes, std::string(subject)};
    }
    return std::nullopt;
}

} // namespace athanor::replay
