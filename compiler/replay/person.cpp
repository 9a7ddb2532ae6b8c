#include "compiler/replay/person.hpp"

#include "compiler/quantity/unit.hpp"
#include "compiler/replay/figures.hpp"
#include "compiler/replay/instruction.hpp"
#include "compiler/replay/loop.hpp"
#include "compiler/replay/works.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace athanor::replay {
namespace {

using timeline::Index;
using timeline::State;
using timeline::Timeline;

// --- words ---------------------------------------------------------------------------------------

/// As a layout in ASCII has it: one mark for each letter that it does not know, blanks for line ends.
std::string plain(std::string_view text) {
    std::string out;
    for (const char c : text) {
        const auto byte = static_cast<unsigned char>(c);
        if ((byte & 0xC0U) == 0x80U) continue;
        out += byte >= 0x80 ? '?' : byte < 0x20 ? ' ' : c;
    }
    return out;
}

} // namespace

bool same_text(std::string_view table, std::string_view wanted) {
    return table == wanted || table == plain(wanted);
}

std::string texts_in(std::string_view instruction) {
    std::string text;
    for (const Word& word : words_of(instruction))
        if (word.order == Order::text) text += (text.empty() ? "" : "; ") + word.value;
    return text;
}

namespace {

bool same_value(const Timeline& timeline, const Word& a, const Word& b) {
    if (same_text(a.value, b.value)) return true;
    if (const timeline::Line* line = line_named(timeline, a.line)) {
        const std::optional<Quantity> one = flow_said(*line, a.value), other = flow_said(*line, b.value);
        if (one && other) return near(*one, *other);
    }
    const std::optional<Quantity> one = quantity(a.value), other = quantity(b.value);
    return one && other && one->kind == other->kind && near(*one, *other);
}

/// `channel`: the controller sets the line's flow, so that the words need not.
bool same(const Timeline& timeline, const std::vector<std::string>& channels, const Word& a, const Word& b) {
    if (a.order != b.order || a.line != b.line) return false;
    if (a.order == Order::text || a.order == Order::after_end) return same_text(a.value, b.value);
    const bool channel = std::find(channels.begin(), channels.end(), a.line) != channels.end();
    return (channel && (a.value.empty() || b.value.empty())) || same_value(timeline, a, b);
}

std::string spoken(const Word& word) {
    const auto with = [&](std::string text, const char* between) {
        return word.value.empty() ? text : text + between + word.value;
    };
    switch (word.order) {
    case Order::open: return with("open " + word.line, " at ");
    case Order::close: return "close " + word.line;
    case Order::set: return with("set " + word.line, " to ");
    case Order::light: return "light burner";
    case Order::shut: return "shut burner";
    case Order::start_pump: return "start pump";
    case Order::stop_pump: return "stop pump";
    case Order::regulate:
        return word.value.empty() ? "end pressure regulation" : "regulate pressure to " + word.value;
    case Order::humidify: return with("lead " + word.line, " through the bath at ");
    case Order::move: return "move the sample to " + word.value;
    case Order::open_tube: return "tube may be opened";
    case Order::after_end:
    case Order::text: return word.value;
    }
    return word.value;
}

/// The parts of an instruction that differ, from the first to the last of them.
std::string spoken(const std::vector<Word>& words, std::size_t first, std::size_t last) {
    std::string text;
    for (std::size_t i = first; i < last; ++i) text += (i == first ? "`" : "; ") + spoken(words[i]);
    return text.empty() ? "" : text + "`";
}

std::string difference(const std::string& table, const std::string& wanted) {
    if (table.empty()) return fmt::format("the table has no instruction, the recipe needs {}", wanted);
    if (wanted.empty()) return fmt::format("the table has {}, the recipe has nothing there", table);
    return fmt::format("the table has {}, the recipe needs {}", table, wanted);
}

class Rows {
public:
    Rows(const program::Program& table, const program::Program& wanted, const Timeline& timeline)
        : table_(table), wanted_(wanted), timeline_(timeline) {}

    Instructions compare() {
        result_.alike = alike();
        if (!result_.alike) {
            texts();
            thresholds();
            behind_end();
            return std::move(result_);
        }
        for (std::size_t p = 0; p < table_.parts.size(); ++p) {
            const program::Part &a = table_.parts[p], &b = wanted_.parts[p];
            one({a.number, 0}, a.hand_over, b.hand_over);
            for (std::size_t t = 0; t < a.thresholds.size(); ++t)
                threshold(a.number, t, a.thresholds[t].instruction, b.thresholds[t].instruction);
            for (std::size_t i = 0; i < a.segments.size(); ++i)
                one({a.number, static_cast<std::uint32_t>(i + 1)}, a.segments[i].instruction,
                    b.segments[i].instruction);
        }
        return std::move(result_);
    }

private:
    bool alike() const {
        return std::equal(table_.parts.begin(), table_.parts.end(), wanted_.parts.begin(), wanted_.parts.end(),
                          [](const program::Part& a, const program::Part& b) {
                              return a.number == b.number && a.thresholds.size() == b.thresholds.size() &&
                                     same_loops(a, b) &&
                                     std::equal(a.segments.begin(), a.segments.end(), b.segments.begin(),
                                                b.segments.end(),
                                                [](const auto& x, const auto& y) { return x.kind == y.kind; });
                          });
    }

    /// Of two tables with the same rows one may say in every pass what the other says once.
    static bool same_loops(const program::Part& a, const program::Part& b) {
        return std::equal(a.loops.begin(), a.loops.end(), b.loops.begin(), b.loops.end(),
                          [](const program::Loop& x, const program::Loop& y) {
                              return x.first == y.first && x.last == y.last && x.passes == y.passes;
                          });
    }

    void one(RowName row, const std::string& table, const std::string& wanted) {
        if (table == wanted) return;
        const std::vector<Word> a = words_of(table), b = words_of(wanted);
        std::size_t first = 0, last_a = a.size(), last_b = b.size();
        const auto agree = [&](std::size_t i, std::size_t j) {
            return same(timeline_, table_.channels, a[i], b[j]);
        };
        while (first < last_a && first < last_b && agree(first, first)) ++first;
        while (last_a > first && last_b > first && agree(last_a - 1, last_b - 1)) --last_a, --last_b;
        if (first == last_a && first == last_b) return;
        const std::string have = spoken(a, first, last_a), want = spoken(b, first, last_b);
        // "no instruction" only where the row has none at all.
        if (have.empty() && !a.empty())
            say(row, fmt::format("the recipe needs {}, the table does not have it", want));
        else
            say(row, difference(have, want));
    }

    void threshold(std::uint32_t part, std::size_t t, const std::string& table, const std::string& wanted) {
        if (same_text(table, wanted)) return;
        // "open argon above 650 °C, at 0.4 L/min": which side and which temperature is keyed, and compared
        // there.
        Word a{Order::set, threshold_line(table), threshold_flow(table)};
        Word b{Order::set, threshold_line(wanted), threshold_flow(wanted)};
        const bool meant = !a.value.empty() && threshold_closes(table) == threshold_closes(wanted) &&
                           same(timeline_, {}, a, b) && head(table) == head(wanted);
        if (meant) return;
        say({part, 0}, difference(table.empty() ? "" : "`" + table + "`", "`" + wanted + "`"));
        result_.otherwise.back().threshold = t;
    }
    static std::string threshold_line(std::string_view text) {
        const std::size_t begin = text.find(' ');
        if (begin == std::string_view::npos) return "";
        return std::string(text.substr(begin + 1, text.find(' ', begin + 1) - begin - 1));
    }
    static std::string head(std::string_view text) { return plain(text.substr(0, text.rfind(", at "))); }

    /// Each threshold beside the recipe's own of the same output, whichever programme that stands in.
    void thresholds() {
        for (const program::Part& part : table_.parts)
            for (std::size_t t = 0; t < part.thresholds.size(); ++t)
                if (const program::ThresholdOutput* own = own_threshold(part.number, part.thresholds[t].output))
                    threshold(part.number, t, part.thresholds[t].instruction, own->instruction);
                else
                    threshold_flow_of(part, t);
    }
    const program::ThresholdOutput* own_threshold(std::uint32_t number, std::uint32_t output) const {
        const program::ThresholdOutput* found = nullptr;
        for (const program::Part& part : wanted_.parts)
            for (const program::ThresholdOutput& own : part.thresholds)
                if (own.output == output && (!found || part.number == number)) found = &own;
        return found;
    }
    /// The recipe's own table keys it as segments: its flow stands in the recipe alone.
    void threshold_flow_of(const program::Part& part, std::size_t t) {
        const program::ThresholdOutput& keyed = part.thresholds[t];
        for (const program::Output& output : table_.outputs) {
            if (output.number != keyed.output || output.use != program::OutputUse::line ||
                output.line >= timeline_.lines.size())
                continue;
            const timeline::Line& line = timeline_.lines[output.line];
            const auto& channels = table_.channels;
            const auto of =
                std::find_if(timeline_.thresholds.begin(), timeline_.thresholds.end(),
                             [&](const timeline::Threshold& wanted) { return wanted.line == output.line; });
            if (of == timeline_.thresholds.end() ||
                std::find(channels.begin(), channels.end(), line.name) != channels.end())
                continue;
            const std::string text = threshold_flow(keyed.instruction);
            const std::optional<Quantity> said = flow_said(line, text);
            if (said && near(*said, {of->flow, Kind::flow, exact})) continue;
            say({part.number, 0}, fmt::format("{}, the recipe needs {}",
                                              said ? fmt::format("{} is set to {}", line.name, text)
                                                   : "no instruction says the flow of " + line.name,
                                              timeline::flow_text(line, of->flow)));
            result_.otherwise.back().threshold = t;
        }
    }

    /// What goes on behind the last row: some of it a person must shut.
    void behind_end() {
        const auto last = [](const program::Program& program) {
            std::vector<Word> words;
            if (!program.parts.empty() && !program.parts.back().segments.empty())
                words = words_of(program.parts.back().segments.back().instruction);
            std::erase_if(words, [](const Word& word) { return word.order != Order::after_end; });
            return words;
        };
        const auto without = [&](std::vector<Word> words, const std::vector<Word>& others) {
            std::erase_if(words, [&](const Word& word) {
                return std::any_of(others.begin(), others.end(), [&](const Word& other) {
                    return same_text(word.value, other.value) || same_text(other.value, word.value);
                });
            });
            return spoken(words, 0, words.size());
        };
        const std::vector<Word> table = last(table_), wanted = last(wanted_);
        const std::string have = without(table, wanted), want = without(wanted, table);
        if (have.empty() && want.empty()) return;
        const program::Part& part = table_.parts.back();
        const RowName row{part.number, static_cast<std::uint32_t>(part.segments.size())};
        say(row, have.empty() ? fmt::format("the recipe needs {}, the table does not have it", want)
                              : difference(have, want));
    }

    struct Text {
        RowName row;
        std::string text;
    };
    /// More passes than a run may have are told of the run.
    static constexpr std::size_t most_texts = 100'000;

    /// Part by part: an order that a row says between two texts is said by another row elsewhere.
    static std::vector<std::string> texts_of(const std::string& instruction) {
        std::vector<std::string> list;
        for (const Word& word : words_of(instruction)) {
            if (word.order != Order::text && word.order != Order::open_tube) continue;
            const std::string text = spoken(word);
            for (std::size_t at = 0; at <= text.size();) {
                const std::size_t end = std::min(text.find("; ", at), text.size());
                list.push_back(text.substr(at, end - at));
                at = end + 2;
            }
        }
        return list;
    }
    /// What a person reads along the run, pass by pass.
    static void along(const program::Part& part, std::uint32_t from, std::uint32_t to,
                      const program::Loop* running, std::vector<Text>& list) {
        for (std::uint32_t i = from; i < to;) {
            const program::Loop* loop = widest_loop(part, i, to, running);
            if (!loop) {
                for (std::string& text : texts_of(part.segments[i].instruction))
                    list.push_back({{part.number, i + 1}, std::move(text)});
                ++i;
                continue;
            }
            const auto begin = part.segments.begin();
            const bool speaks =
                std::any_of(begin + loop->first, begin + loop->last + 1,
                            [](const program::Segment& s) { return !texts_of(s.instruction).empty(); });
            for (std::uint32_t pass = 0; speaks && pass < loop->passes && list.size() < most_texts; ++pass)
                along(part, loop->first, loop->last + 1, loop, list);
            i = loop->last + 1;
        }
    }
    /// Texts that one table has and the other has not, in their order.
    void texts() {
        const auto collect = [](const program::Program& program) {
            std::vector<Text> list;
            for (const program::Part& part : program.parts) {
                for (std::string& text : texts_of(part.hand_over))
                    list.push_back({{part.number, 0}, std::move(text)});
                along(part, 0, static_cast<std::uint32_t>(part.segments.size()), nullptr, list);
            }
            return list;
        };
        const std::vector<Text> have = collect(table_), want = collect(wanted_);
        std::size_t at = 0;
        for (const Text& text : want) {
            std::size_t found = at;
            while (found < have.size() && !same_text(have[found].text, text.text)) ++found;
            if (found == have.size()) {
                const RowName row = have.empty() ? RowName{table_.parts.front().number, 1}
                                                 : have[std::min(at, have.size() - 1)].row;
                say(row,
                    fmt::format("the recipe needs `{}`, no row of the table from here on has it", text.text));
                continue;
            }
            for (; at < found; ++at) extra(have[at].row, have[at].text);
            at = found + 1;
        }
        for (; at < have.size(); ++at) extra(have[at].row, have[at].text);
    }
    void extra(RowName row, const std::string& text) {
        say(row, fmt::format("the table has `{}`, the recipe has nothing there", text));
    }

    void say(RowName row, std::string message) {
        // What lacks in several passes of one row is told once.
        if (!result_.otherwise.empty() && result_.otherwise.back().row == row &&
            result_.otherwise.back().message == message)
            return;
        result_.otherwise.push_back({row, std::move(message), "", true});
    }

    const program::Program& table_;
    const program::Program& wanted_;
    const Timeline& timeline_;
    Instructions result_;
};

} // namespace

Instructions compare_instructions(const program::Program& table, const program::Program& wanted,
                                  const timeline::Timeline& recipe) {
    return Rows(table, wanted, recipe).compare();
}

// --- along a run ---------------------------------------------------------------------------------

Hands::Hands(const Timeline& timeline, const program::Program& program, const Run& run)
    : timeline_(timeline), program_(program) {
    end_.flows.resize(timeline.lines.size());
    end_.open.resize(timeline.lines.size());
    if (!timeline.states.empty()) end_.place = timeline.states.front().place;
    const auto part_of = [&](const Stretch& s) -> const program::Part* {
        for (const program::Part& part : program.parts)
            if (part.number == s.part) return &part;
        return nullptr;
    };
    // The end of a programme has no stretch: its words are said when the next one begins, or behind the last.
    const auto ended = [&](const program::Part* part) {
        if (part && !part->segments.empty()) follow(end_, part->segments.back().instruction);
    };
    const program::Part* before = nullptr;
    // A programme of nothing but its end has words all the same.
    if (run.stretches.empty() && !program.parts.empty()) before = &program.parts.front();
    for (const Stretch& s : run.stretches) {
        const program::Part* part = part_of(s);
        if (before && part != before) ended(before);
        before = part;
        end_.tube_open = false; // only while that very person is waited for
        if (part && s.between)
            follow(end_, part->hand_over);
        else if (part && s.segment >= 1 && s.segment <= part->segments.size())
            follow(end_, part->segments[s.segment - 1].instruction);
        // Where its output shuts the feed the flame is out, said or not.
        if (const program::Output* burner = output_of(program, program::OutputUse::burner))
            end_.burner = end_.burner && works(*burner, s.outputs);
        if (hands_.empty() || !(hands_.back() == end_)) hands_.push_back(end_);
        which_.push_back(hands_.size() - 1);
    }
    ended(before);
}

bool Hands::has_channel(const std::string& line) const {
    return std::find(program_.channels.begin(), program_.channels.end(), line) != program_.channels.end();
}

void Hands::follow(Hand& hand, const std::string& instruction) const {
    for (const Word& word : words_of(instruction)) {
        Index i = 0;
        while (i < timeline_.lines.size() && timeline_.lines[i].name != word.line) ++i;
        const bool known = i < timeline_.lines.size();
        switch (word.order) {
        case Order::open:
        case Order::set:
            if (!known) break;
            hand.open[i] = true;
            if (!word.value.empty()) {
                const std::optional<Quantity> said = flow_said(timeline_.lines[i], word.value);
                hand.flows[i] = said ? std::optional(said->si) : std::nullopt;
            }
            if (i == timeline_.bubbler_line && word.order == Order::open) hand.bubbler = false;
            break;
        case Order::close:
            if (known) hand.open[i] = false;
            if (known && i == timeline_.bubbler_line) hand.bubbler = false;
            break;
        case Order::light: hand.burner = true; break;
        case Order::shut: hand.burner = false; break;
        case Order::start_pump: hand.pump = true; break;
        case Order::stop_pump: hand.pump = false; break;
        case Order::regulate:
            if (const std::optional<Quantity> value = quantity(word.value); word.value.empty() || value)
                hand.regulated = value ? value->si : 0;
            break;
        case Order::humidify:
            hand.bubbler = true;
            if (const std::optional<Quantity> value = quantity(word.value)) hand.bath = value->si;
            break;
        case Order::move:
            for (Index p = 0; p < timeline_.places.size(); ++p)
                if (timeline_.places[p].name == word.value) hand.place = p;
            break;
        case Order::open_tube: hand.tube_open = true; break;
        case Order::after_end: // behind the run
        case Order::text: break;
        }
    }
}

bool Hands::by_threshold(Index line, const State& state) const {
    for (std::size_t t = 0; t < timeline_.thresholds.size(); ++t)
        if ((state.armed >> t & 1U) != 0 && timeline_.thresholds[t].line == line) return true;
    return false;
}

void Hands::compare_flow(const Hand& hand, Index i, double recipe, std::vector<std::string>& list) const {
    const timeline::Line& line = timeline_.lines[i];
    const std::string wanted = timeline::flow_text(line, recipe);
    if (!hand.flows[i])
        list.push_back(
            fmt::format("no instruction says the flow of {}, the recipe needs {}", line.name, wanted));
    else if (!near({*hand.flows[i], Kind::flow}, {recipe, Kind::flow, exact}))
        list.push_back(fmt::format("{} is set to {}, the recipe needs {}", line.name,
                                   timeline::flow_text(line, *hand.flows[i]), wanted));
}

/// A meter stays where it was turned while its line is shut, and that flow comes when the power fails: the
/// proof knows those of the recipe.
void Hands::compare_shut(const Hand& hand, Index i, std::vector<std::string>& list) const {
    if (!hand.flows[i]) return;
    const timeline::Line& line = timeline_.lines[i];
    std::vector<double> wanted;
    const auto want = [&](double flow) {
        if (flow > 0 && std::find(wanted.begin(), wanted.end(), flow) == wanted.end()) wanted.push_back(flow);
    };
    for (const State& state : timeline_.states)
        if (i < state.flows.size()) want(state.flows[i]);
    for (const timeline::Threshold& threshold : timeline_.thresholds)
        if (threshold.line == i) want(threshold.flow);
    std::string flows;
    for (const double flow : wanted) {
        if (near({*hand.flows[i], Kind::flow}, {flow, Kind::flow, exact})) return;
        flows += (flows.empty() ? "" : " or ") + timeline::flow_text(line, flow);
    }
    list.push_back(fmt::format("{} is set to {}, the recipe {}: its meter stays so while it is shut", line.name,
                               timeline::flow_text(line, *hand.flows[i]),
                               flows.empty() ? "never sets it" : "needs " + flows));
}

/// The flow of a standing threshold that this table keys as segments, where one of them has it open.
void Hands::compare_thresholds(const Hand& hand, const Stretch& s, const State& state,
                               std::vector<std::string>& list) const {
    const auto keyed = [&](const program::Output& output) {
        for (const program::Part& part : program_.parts)
            for (const program::ThresholdOutput& threshold : part.thresholds)
                if (part.number == s.part && threshold.output == output.number) return true;
        return false;
    };
    for (std::size_t t = 0; t < timeline_.thresholds.size(); ++t) {
        const Index line = timeline_.thresholds[t].line;
        if ((state.armed >> t & 1U) == 0 || has_channel(timeline_.lines[line].name)) continue;
        const program::Output* output = output_of(program_, program::OutputUse::line, line);
        if (output && !keyed(*output) && works(*output, s.outputs))
            compare_flow(hand, line, timeline_.thresholds[t].flow, list);
    }
}

void Hands::compare(const Hand& hand, const State& state, std::vector<std::string>& list) const {
    for (Index i = 0; i < timeline_.lines.size() && i < state.open.size(); ++i) {
        const timeline::Line& line = timeline_.lines[i];
        if (by_threshold(i, state) || has_channel(line.name)) continue;
        if (!output_of(program_, program::OutputUse::line, i) && hand.open[i] != state.open[i])
            list.push_back(fmt::format("{} is {} by hand, the recipe has it {}", line.name,
                                       hand.open[i] ? "open" : "shut", state.open[i] ? "open" : "shut"));
        if (!state.open[i])
            compare_shut(hand, i, list);
        else if (state.flows[i] > 0)
            compare_flow(hand, i, state.flows[i], list);
    }
    using program::OutputUse;
    const auto device = [&](OutputUse use, const char* name, const timeline::Device& d, bool have, bool want) {
        if (d.present && !output_of(program_, use) && have != want)
            list.push_back(fmt::format("the {} is {} by hand, the recipe has it {}", name, have ? "on" : "off",
                                       want ? "on" : "off"));
    };
    device(OutputUse::burner, "burner", timeline_.burner, hand.burner, state.burner);
    device(OutputUse::pump, "pump", timeline_.pump, hand.pump, state.pump);
    device(OutputUse::bubbler, "bubbler", timeline_.bubbler, hand.bubbler, state.bubbler);
    // An output lets the fuel in and lights nothing: unlit, it fills the room.
    if (output_of(program_, OutputUse::burner) && state.burner && !hand.burner)
        list.emplace_back("by the instructions the burner is not lit, the recipe has it lit");
    if (state.bubbler && !near({hand.bath, Kind::temperature}, {state.bath, Kind::temperature}))
        list.push_back(fmt::format("the bath is {}, the recipe needs {}",
                                   hand.bath > 0 ? to_text(hand.bath, Kind::temperature) : "not set",
                                   to_text(state.bath, Kind::temperature)));
    if (!near({hand.regulated, Kind::pressure}, {state.regulated, Kind::pressure, exact})) {
        const auto text = [](double pressure) {
            return pressure > 0 ? "regulated to " + to_text(pressure, Kind::pressure)
                                : std::string("not regulated");
        };
        list.push_back(fmt::format("the pressure is {}, the recipe has it {}", text(hand.regulated),
                                   text(state.regulated)));
    }
    if (!output_of(program_, OutputUse::slide) && state.place != timeline::none &&
        state.place < timeline_.places.size() && hand.place != state.place)
        list.push_back(
            fmt::format("no instruction moves the sample to {}", timeline_.places[state.place].name));
}

std::vector<std::string> Hands::differences(const Run& run, std::size_t stretch, const State& state) const {
    std::vector<std::string> list;
    const Hand& hand = hands_[which_[stretch]];
    compare(hand, state, list);
    if (!run.stretches[stretch].between) compare_thresholds(hand, run.stretches[stretch], state, list);
    if (run.stretches[stretch].kind == Stretch::Kind::person && hand.tube_open != state.tube_open)
        list.emplace_back(hand.tube_open ? "the table says `tube may be opened`, the recipe keeps it shut"
                                         : "the recipe needs `tube may be opened`, the table does not say it");
    return list;
}

std::vector<std::string> Hands::end_differences(const State& state) const {
    std::vector<std::string> list;
    compare(end_, state, list);
    return list;
}

} // namespace athanor::replay
