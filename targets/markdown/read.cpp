#include "targets/markdown/markdown.hpp"

#include "targets/markdown/text.hpp"
#include "targets/sheet/rows.hpp"
#include "targets/words.hpp"

#include <algorithm>
#include <charconv>

#include <fmt/format.h>

namespace athanor::targets::markdown {
namespace {

using sheet::Cell;
using sheet::Column;
using sheet::Field;
using Row = std::vector<Cell>;

struct Wrong {
    ReadError error;
};

struct Line {
    std::string text;
    std::size_t number = 0;
};

std::string_view after(std::string_view text, std::string_view begin) {
    return text.starts_with(begin) ? text.substr(begin.size()) : std::string_view{};
}

/// Lines, with what a list item wraps joined again.
std::vector<Line> joined(std::string_view bytes) {
    std::vector<Line> list;
    std::size_t number = 0;
    bool item = false;
    while (!bytes.empty()) {
        std::size_t end = bytes.find('\n');
        std::string_view text = bytes.substr(0, end);
        bytes.remove_prefix(end == std::string_view::npos ? bytes.size() : end + 1);
        ++number;
        if (text.ends_with('\r')) text.remove_suffix(1);
        if (item && text.starts_with("  ") && text.size() > 2) {
            list.back().text += " " + std::string(text.substr(2));
            continue;
        }
        item = text.starts_with("- ");
        list.push_back({std::string(text), number});
    }
    return list;
}

class Reader {
public:
    explicit Reader(const program::Program& shape) : shape_(shape), columns_(sheet::every_column(shape)) {}

    const std::vector<Column>& columns() const { return columns_; }

    std::vector<Row> run(std::string_view bytes) {
        for (const Line& line : joined(bytes)) {
            line_ = &line;
            std::string_view text = line.text;
            if (text.starts_with("#")) {
                close();
                programme_ = std::string(after(text, "## Programme "));
                section_ = text == "## Outputs"              ? &Reader::output_line
                           : text == "## What a person does" ? &Reader::hand_line
                           : text == "## How to read it"     ? &Reader::legend_line
                                                             : nullptr;
                told_ = 0;
                continue;
            }
            if (section_ != nullptr) (this->*section_)(text);
            if (programme_.empty()) continue;
            if (text.starts_with("|"))
                table_line();
            else if (text.starts_with("- "))
                item(text.substr(2));
        }
        close();
        for (const auto& [line, told] : hands_) {
            line_ = &line;
            compare_hand(told);
        }
        return std::move(rows_);
    }

private:
    /// What a person keys by must say what the table means: which output drives what, and which way round.
    void output_line(std::string_view text) {
        if (!text.starts_with("|") || ++told_ == 2) return; // dashes
        const std::vector<PipeCell> found = cells(line_->text);
        if (told_ == 1) return titles(found);
        const std::size_t i = told_ - 3;
        if (found.size() != 4 || i >= shape_.outputs.size())
            wrong(1, fmt::format("{} outputs are expected here, each with what it drives and its two positions",
                                 shape_.outputs.size()));
        const std::vector<std::string> wanted = output_words(shape_.outputs[i]);
        for (std::size_t c = 0; c < wanted.size(); ++c)
            if (found[c].text != wanted[c])
                wrong(found[c].column, fmt::format("`{}` stands here; for output {} of this rig it is `{}`",
                                                   found[c].text, shape_.outputs[i].number, wanted[c]));
    }

    /// Which of two columns is "energised" is what a person reads the others by.
    void titles(const std::vector<PipeCell>& found) const {
        const std::vector<std::string> wanted = output_titles();
        if (found.size() != wanted.size()) wrong(1, fmt::format("{} titles are expected here", wanted.size()));
        for (std::size_t c = 0; c < wanted.size(); ++c)
            if (found[c].text != wanted[c])
                wrong(found[c].column,
                      fmt::format("`{}` stands here, the title is `{}`", found[c].text, wanted[c]));
    }
    void legend_line(std::string_view text) {
        if (text.empty()) return;
        const std::vector<std::string> known = legend();
        if (!text.starts_with("- ") || std::find(known.begin(), known.end(), text.substr(2)) == known.end())
            wrong(1, "this is not how the sheet is to be read");
    }

    struct Told {
        std::string programme, segment, text, kind = "operator"; // no segment: before the programme is started
    };
    void hand_line(std::string_view text) {
        Told told;
        std::string_view rest = after(text, "- before programme "), end = " is started: ";
        if (rest.empty() && !(rest = after(text, "- when programme ")).empty()) {
            end = " ends: ";
            told.kind = "end";
        } else if (rest.empty()) {
            rest = after(text, "- programme ");
            end = " waits: ";
        }
        const std::size_t at = rest.find(end), comma = rest.find(", segment ");
        if (at == std::string_view::npos) return;
        told.text = unescaped(rest.substr(at + end.size()));
        const bool names = end == " waits: " && comma < at;
        told.programme = std::string(rest.substr(0, names ? comma : at));
        if (names) told.segment = std::string(rest.substr(comma + 10, at - comma - 10));
        hands_.emplace_back(*line_, std::move(told));
    }
    void compare_hand(const Told& told) {
        for (Row& row : rows_)
            if (cell(row, Field::program).text == told.programme && cell(row, Field::kind).text == told.kind &&
                (told.kind == "end" || cell(row, Field::segment).text == told.segment) &&
                cell(row, Field::instruction).text == told.text)
                return;
        wrong(3, fmt::format("`{}` is not what programme {} says there", told.text, told.programme));
    }

    [[noreturn]] void wrong(std::size_t column, std::string message) const {
        throw Wrong{{line_->number, column, std::move(message)}};
    }

    Row empty_row() const { return Row(columns_.size(), Cell{"", line_->number, 1}); }
    Cell& cell(Row& row, Field field, std::size_t index = 0) const {
        for (std::size_t i = 0; i < columns_.size(); ++i)
            if (columns_[i].field == field && columns_[i].index == index) return row[i];
        wrong(1, "the sheet shows what this controller and rig do not have");
    }
    void set(Row& row, Field field, std::size_t index, std::string text, std::size_t column) const {
        cell(row, field, index) = {std::move(text), line_->number, column};
    }
    Row begun(std::string_view kind) const {
        Row row = empty_row();
        set(row, Field::program, 0, programme_, 1);
        set(row, Field::kind, 0, std::string(kind), 1);
        return row;
    }

    /// The rows of a programme go out together: what stands below the table belongs to its rows.
    void close() {
        for (Row& row : before_) rows_.push_back(std::move(row));
        for (Row& row : segments_) rows_.push_back(std::move(row));
        before_.clear();
        segments_.clear();
        head_.clear();
        next_.clear();
    }

    void item(std::string_view text) {
        if (std::string_view hand = after(text, "Before it is started: "); !hand.empty()) {
            Row row = begun("operator");
            set(row, Field::instruction, 0, unescaped(hand), 3);
            before_.insert(before_.begin(), std::move(row));
        } else if (std::string_view threshold = after(text, "Threshold: output "); !threshold.empty()) {
            threshold_item(threshold);
        } else if (std::string_view next = after(text, "Goes on by itself in programme "); !next.empty()) {
            if (next.ends_with('.')) next.remove_suffix(1);
            next_ = next;
        } else {
            instruction(text);
        }
    }

    void threshold_item(std::string_view text) {
        std::size_t is = text.find(" is energised "), unit = text.find(" degC.");
        if (is == std::string_view::npos || unit == std::string_view::npos || unit < is)
            wrong(3, "a threshold reads: output N is energised above T degC");
        std::string_view number = text.substr(0, is), middle = text.substr(is + 14, unit - is - 14);
        bool above = middle.starts_with("above ");
        if (!above && !middle.starts_with("below ")) wrong(3, "a threshold is energised above or below");
        Row row = begun("threshold");
        set(row, Field::target, 0, std::string(middle.substr(6)), 3);
        bool found = false;
        for (std::size_t i = 0; i < shape_.outputs.size(); ++i)
            if (std::to_string(shape_.outputs[i].number) == number) {
                set(row, Field::output, i, above ? "1" : "0", 3);
                found = true;
            }
        if (!found) wrong(3, fmt::format("there is no output {}", number));
        std::string_view rest = text.substr(unit + 6);
        if (rest.starts_with(' ')) rest.remove_prefix(1);
        set(row, Field::instruction, 0, unescaped(rest), 3);
        before_.push_back(std::move(row));
    }

    /// "3 at `file:18`: what happens"
    void instruction(std::string_view text) {
        std::uint32_t number = 0;
        auto [end, code] = std::from_chars(text.data(), text.data() + text.size(), number);
        std::string_view rest = text.substr(static_cast<std::size_t>(end - text.data()));
        if (rest.starts_with(" at `")) {
            std::size_t close = rest.find("`: ", 5);
            rest = close == std::string_view::npos ? std::string_view{} : rest.substr(close + 1);
        }
        if (code != std::errc{} || !rest.starts_with(": ") || number < 1 || number > segments_.size())
            wrong(3, "an instruction begins with the number of a segment above");
        set(segments_[number - 1], Field::instruction, 0, unescaped(rest.substr(2)), 3);
    }

    void table_line() {
        std::vector<PipeCell> found = cells(line_->text);
        if (head_.empty()) {
            for (const PipeCell& each : found) head_.push_back(each.text);
            if (head_.size() < 3 || head_[0] != "Seg") wrong(1, "the table of a programme begins with `Seg`");
            ruled_ = false;
            return;
        }
        if (!ruled_) {
            ruled_ = true;
            if (line_->text.find_first_not_of("|-: ") == std::string::npos) return;
            wrong(1, "a line of dashes is expected below the titles");
        }
        if (found.size() != head_.size())
            wrong(1, fmt::format("{} cells in a table of {} columns", found.size(), head_.size()));
        std::string kind;
        for (std::size_t i = 0; i < found.size(); ++i)
            if (head_[i] == "Kind") kind = found[i].text;
        Row row = begun(kind);
        for (std::size_t i = 0; i < found.size(); ++i) one(row, head_[i], found[i], kind);
        if (kind == "end" && !next_.empty()) set(row, Field::next, 0, next_, 1);
        segments_.push_back(std::move(row));
    }

    void one(Row& row, const std::string& title, const PipeCell& value, const std::string& kind) {
        auto time = [&](Field field) {
            if (value.text.empty()) return;
            std::optional<std::string> text =
                seconds(value.text.starts_with('~') ? std::string_view(value.text).substr(1) : value.text);
            if (!text)
                wrong(value.column, fmt::format("{}: `{}` is no time such as 1:30:00", title, value.text));
            set(row, field, 0, *text, value.column);
        };
        if (title == "Seg") {
            set(row, Field::segment, 0, value.text, value.column);
        } else if (title == "Kind") {
            set(row, Field::kind, 0, kind, value.column);
        } else if (title == target_title(shape_) || title == "K/min") {
            std::size_t zone = 0;
            for (std::string_view rest = value.text; !rest.empty(); ++zone) {
                std::string_view part = rest.substr(0, rest.find('/'));
                rest.remove_prefix(std::min(rest.size(), part.size() + 1));
                set(row, title == "K/min" ? Field::rate : Field::target, zone, std::string(part), value.column);
            }
        } else if (title == "h:min:s") {
            time(Field::duration);
        } else if (title == "Dwell") {
            time(Field::dwell);
        } else if (title == "Band K") {
            set(row, Field::band, 0, value.text, value.column);
        } else if (title == "Loop") {
            loops(row, value);
        } else if (title.starts_with("Out ")) {
            std::string expected = "Out";
            for (const program::Output& output : shape_.outputs)
                expected += " " + std::to_string(output.number);
            if (title != expected || value.text.size() + 1 != shape_.outputs.size() * 2)
                wrong(value.column, fmt::format("`{}`: a 0 or 1 for each output is expected", value.text));
            for (std::size_t i = 0; i < shape_.outputs.size(); ++i)
                set(row, Field::output, i, value.text.substr(2 * i, 1), value.column + 2 * i);
        } else {
            if (title.starts_with("To degC"))
                wrong(1,
                      fmt::format("the title `{}` names other zones than `{}`", title, target_title(shape_)));
            std::size_t i = 0;
            while (i < shape_.channels.size() && shape_.channels[i] + " sccm" != title) ++i;
            if (i == shape_.channels.size()) wrong(value.column, fmt::format("there is no column `{}`", title));
            set(row, Field::channel, i, value.text, value.column);
        }
    }

    void loops(Row& row, const PipeCell& value) {
        std::string starts, passes;
        std::string_view rest = value.text;
        while (!rest.empty()) {
            std::string_view one = rest.substr(0, rest.find(", "));
            rest.remove_prefix(std::min(rest.size(), one.size() + 2));
            std::size_t x = one.find(" x ");
            if (!one.starts_with("from ") || x == std::string_view::npos)
                wrong(value.column, "a loop reads: from 2 x 30");
            starts += (starts.empty() ? "" : " ") + std::string(one.substr(5, x - 5));
            passes += (passes.empty() ? "" : " ") + std::string(one.substr(x + 3));
        }
        set(row, Field::loop_start, 0, starts, value.column);
        set(row, Field::loop_passes, 0, passes, value.column);
    }

    const program::Program& shape_;
    std::vector<Column> columns_;
    const Line* line_ = nullptr;
    std::string programme_, next_;
    void (Reader::*section_)(std::string_view) = nullptr; // of the section in front of the programmes
    std::size_t told_ = 0;                                // lines of its table
    std::vector<std::pair<Line, Told>> hands_;
    std::vector<std::string> head_;
    bool ruled_ = false;
    std::vector<Row> before_, segments_, rows_;
};

} // namespace

std::optional<program::Program> read(std::string_view bytes, const program::Program& shape, ReadError& error) {
    try {
        Reader reader(shape);
        std::vector<Row> rows = reader.run(bytes);
        return sheet::assemble(reader.columns(), rows, shape, error);
    } catch (const Wrong& wrong) {
        error = wrong.error;
        return std::nullopt;
    }
}

} // namespace athanor::targets::markdown
