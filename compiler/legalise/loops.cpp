#include "compiler/legalise/loops.hpp"

#include <algorithm>
#include <map>
#include <string>
#include <string_view>
#include <unordered_map>

namespace athanor::legalise {

namespace {

/// What rows say, apart from what outputs do: of rows that leave the same state one may say all that is done in
/// any of them, since doing it again changes nothing.
class Said {
public:
    Said(const Rows& rows, const timeline::Timeline& timeline) : rows_(rows), timeline_(timeline) {
        for (std::size_t i = 0; i < rows.size(); ++i) {
            std::string told;
            for (const std::string_view part : parts(rows.segments[i].instruction))
                if (!by_output(part)) told.append(part).append("; ");
            told_.push_back(std::move(told));
        }
    }
    bool alike(std::size_t a, std::size_t b) const {
        if (rows_.segments[a].instruction == rows_.segments[b].instruction) return true;
        return timeline_.spans[rows_.spans[a]].state == timeline_.spans[rows_.spans[b]].state &&
               told_[a] == told_[b];
    }
    /// Adds to a row's words what another one says.
    static void add(std::string& words, const std::string& other) {
        if (words == other) return;
        std::string missing;
        const std::vector<std::string_view> have = parts(words);
        for (const std::string_view part : parts(other))
            if (std::find(have.begin(), have.end(), part) == have.end()) missing.append(part).append("; ");
        words.insert(0, missing);
        if (words.ends_with("; ")) words.resize(words.size() - 2);
    }

private:
    static std::vector<std::string_view> parts(std::string_view text) {
        std::vector<std::string_view> list;
        while (!text.empty()) {
            const std::size_t end = text.find("; ");
            list.push_back(text.substr(0, end));
            text.remove_prefix(end == std::string_view::npos ? text.size() : end + 2);
        }
        return list;
    }
    /// "close argon", "start pump": an order that an output carries out.
    bool by_output(std::string_view part) const {
        if (part.ends_with(" by hand")) return false;
        if (part == "light burner" || part == "shut burner") return timeline_.burner.output != 0;
        if (part == "start pump" || part == "stop pump") return timeline_.pump.output != 0;
        return std::any_of(timeline_.lines.begin(), timeline_.lines.end(), [&](const timeline::Line& line) {
            if (line.output == 0) return false;
            return part == "close " + line.name || part == "open " + line.name ||
                   part.starts_with("open " + line.name + " at ") ||
                   part.starts_with("set " + line.name + " to ");
        });
    }

    const Rows& rows_;
    const timeline::Timeline& timeline_;
    std::vector<std::string> told_;
};

/// What the search moves as one: a row, or a loop that is folded already.
struct Item {
    std::size_t first = 0; // of its rows as they are walked
    std::size_t span = 1;  // rows that it stands for, every pass counted
    std::size_t rows = 1;  // that are keyed
    std::size_t depth = 0; // levels of loops inside
    std::uint32_t kind = 0;
    std::vector<Item> body; // of a loop
    std::size_t passes = 1;
};

struct Bounds {
    std::size_t fewest, most; // passes
    std::size_t room;         // rows of a loop's body
    std::size_t levels;
};

/// Exact over its items: every loop may begin anywhere.
class Anywhere {
public:
    /// `alike(i, j)`: the items stand for the same, so that one loop may hold both.
    template<typename Alike>
    Anywhere(const Rows& rows, const std::vector<Item>& items, const Bounds& bounds, const Alike& alike)
        : rows_(rows), items_(items), size_(items.size()), bounds_(bounds) {
        alike_.assign(size_ + 1, std::vector<std::uint16_t>(size_ + 1, 0));
        for (std::size_t i = size_; i-- > 0;)
            for (std::size_t j = size_; j-- > i + 1;)
                if (alike(i, j)) alike_[i][j] = static_cast<std::uint16_t>(alike_[i + 1][j + 1] + 1);
    }

    Folded fold() {
        for (std::size_t level = 0; level <= bounds_.levels; ++level) weigh(level);
        Folded result;
        emit(0, size_, bounds_.levels, true, {0}, result);
        return result;
    }

private:
    struct Choice {
        std::uint32_t rows = 0;
        std::uint32_t body = 0, passes = 0; // what comes first: a loop, or one item where `body` is 0
    };
    using Table = std::vector<std::vector<Choice>>; // [first][length]
    static constexpr std::uint32_t never = 1U << 24U;

    std::uint32_t weight(std::size_t i, std::size_t level) const {
        return items_[i].depth <= level ? static_cast<std::uint32_t>(items_[i].rows) : never;
    }

    void weigh(std::size_t level) {
        Table any(size_ + 1, std::vector<Choice>(size_ + 1));
        Table open = any; // no loop over the whole stretch: it may be the body of another
        for (std::size_t length = 1; length <= size_; ++length)
            for (std::size_t i = 0; i + length <= size_; ++i) {
                Choice best{std::min(never, any[i + 1][length - 1].rows + weight(i, level)), 0, 0};
                Choice whole = best;
                if (length == 1 && items_[i].depth > 0) best.rows = never;
                for (std::size_t body = 1; level > 0 && 2 * body <= length; ++body) {
                    const std::uint32_t rows = open_[level - 1][i][body].rows;
                    if (rows > bounds_.room) continue;
                    const std::size_t copies = std::min(1 + alike_[i][i + body] / body, bounds_.most);
                    for (std::size_t n = bounds_.fewest; n <= copies && n * body <= length; ++n) {
                        const Choice loop{rows + any[i + n * body][length - n * body].rows,
                                          static_cast<std::uint32_t>(body), static_cast<std::uint32_t>(n)};
                        Choice& into = n * body == length ? whole : best;
                        if (loop.rows < into.rows) into = loop;
                    }
                }
                open[i][length] = best;
                any[i][length] = whole.rows < best.rows ? whole : best;
            }
        any_.push_back(std::move(any));
        open_.push_back(std::move(open));
    }

    /// `copies`: distances in rows to the passes that each row stands for.
    void emit(std::size_t i, std::size_t length, std::size_t level, bool may_be_whole,
              const std::vector<std::size_t>& copies, Folded& to) const {
        for (; length > 0; may_be_whole = true) {
            const Choice& choice = (may_be_whole ? any_ : open_)[level][i][length];
            if (choice.body == 0) {
                put(items_[i], copies, to);
                ++i;
                --length;
                continue;
            }
            const std::size_t distance = items_[i + choice.body].first - items_[i].first;
            const auto first = static_cast<std::uint32_t>(to.rows.size());
            emit(i, choice.body, level - 1, false, times(copies, choice.passes, distance), to);
            to.loops.push_back({first, static_cast<std::uint32_t>(to.rows.size() - 1), choice.passes});
            i += std::size_t{choice.body} * choice.passes;
            length -= std::size_t{choice.body} * choice.passes;
        }
    }
    static std::vector<std::size_t> times(const std::vector<std::size_t>& copies, std::size_t passes,
                                          std::size_t distance) {
        std::vector<std::size_t> all;
        for (std::size_t n = 0; n < passes; ++n)
            for (const std::size_t copy : copies) all.push_back(copy + n * distance);
        return all;
    }
    void put(const Item& item, const std::vector<std::size_t>& copies, Folded& to) const {
        if (!item.body.empty()) {
            const auto first = static_cast<std::uint32_t>(to.rows.size());
            const std::vector<std::size_t> all = times(copies, item.passes, item.span / item.passes);
            for (const Item& inner : item.body) put(inner, all, to);
            to.loops.push_back({first, static_cast<std::uint32_t>(to.rows.size() - 1),
                                static_cast<std::uint32_t>(item.passes)});
            return;
        }
        to.rows.append(rows_, item.first, item.first + 1);
        program::Segment& row = to.rows.segments.back();
        for (const std::size_t distance : copies) {
            const program::Segment& other = rows_.segments[item.first + distance];
            row.duration_lo_s = std::min(row.duration_lo_s, other.duration_lo_s);
            row.duration_hi_s = std::max(row.duration_hi_s, other.duration_hi_s);
            Said::add(row.instruction, other.instruction);
        }
    }

    const Rows& rows_;
    const std::vector<Item>& items_;
    std::size_t size_;
    Bounds bounds_;
    std::vector<std::vector<std::uint16_t>> alike_; // [i][j]: items from i on that are alike those from j on
    std::vector<Table> any_, open_;                 // per level
};

/// Numbers for rows: those that may stand in one row of a loop have the same.
std::vector<std::uint32_t> kinds_of(const Rows& rows) {
    std::unordered_map<std::size_t, std::vector<std::uint32_t>> by_hash; // the first row of each number
    std::vector<std::uint32_t> kinds;
    for (std::size_t i = 0; i < rows.size(); ++i) {
        const program::Segment& s = rows.segments[i];
        std::size_t hash = std::hash<std::string>{}(s.instruction) + static_cast<std::size_t>(s.kind) * 31;
        const auto mix = [&](std::int64_t value) { hash = hash * 1000003 + static_cast<std::size_t>(value); };
        for (const program::Values* list : {&s.targets, &s.rates, &s.channels})
            for (const std::int64_t value : *list) mix(value);
        for (const std::int64_t value : {s.ramp_time, s.dwell, s.band, std::int64_t{s.outputs}}) mix(value);
        std::vector<std::uint32_t>& known = by_hash[hash];
        const auto found = std::find_if(known.begin(), known.end(), [&](std::uint32_t j) {
            return rows.segments[j].instruction == s.instruction && keyed_alike(rows, j, i);
        });
        kinds.push_back(found == known.end() ? static_cast<std::uint32_t>(i) : *found);
        if (found == known.end()) known.push_back(static_cast<std::uint32_t>(i));
    }
    return kinds;
}

/// Folds what saves most, one period after the other, until few enough items are left for the exact search.
class Shortening {
public:
    Shortening(const Rows& rows, const Bounds& bounds) : bounds_(bounds) {
        const std::vector<std::uint32_t> kinds = kinds_of(rows);
        for (std::size_t i = 0; i < rows.size(); ++i) {
            Item item;
            item.first = i;
            item.kind = kinds[i];
            next_ = std::max(next_, item.kind + 1);
            items_.push_back(std::move(item));
        }
    }

    /// Nothing where too many are left.
    std::optional<std::vector<Item>> run() {
        constexpr std::size_t rounds = 200;
        for (std::size_t n = 0; n < rounds && items_.size() > most_folded_rows; ++n) {
            const std::optional<Run> best = find(0, items_.size(), bounds_.levels);
            if (!best) return std::nullopt;
            // What repeats inside its body is folded before it, while there is a level for both.
            const std::optional<Run> inner = find(best->first, best->first + best->period, bounds_.levels - 1);
            fold(inner.value_or(*best));
        }
        if (items_.size() > most_folded_rows) return std::nullopt;
        return std::move(items_);
    }

private:
    struct Run {
        std::size_t first = 0, period = 0, copies = 0, slack = 0; // items
        std::size_t gain = 0;                                     // rows
    };

    /// The run of equal neighbours of a period that begins at `i`, where one is worth a loop.
    std::optional<Run> run_at(std::size_t i, std::size_t period, std::size_t end, std::size_t levels) const {
        std::size_t rows = 0, depth = 0;
        if (i + period > end) return std::nullopt;
        for (std::size_t k = i; k < i + period; ++k) {
            rows += items_[k].rows;
            depth = std::max(depth, items_[k].depth);
        }
        if (rows > bounds_.room || depth + 1 > levels || (period == 1 && depth > 0)) return std::nullopt;
        std::size_t equal = 0;
        while (i + period + equal < end && items_[i + equal].kind == items_[i + period + equal].kind) ++equal;
        const std::size_t copies = std::min(1 + equal / period, bounds_.most);
        if (copies < bounds_.fewest) return std::nullopt;
        return Run{i, period, copies, copies < bounds_.most ? equal % period : 0, rows * (copies - 1)};
    }
    std::optional<Run> find(std::size_t begin, std::size_t end, std::size_t levels) const {
        std::optional<Run> best;
        // Of very long tables only short passes are looked for.
        constexpr std::size_t most_compared = 50'000'000;
        const std::size_t longest = std::min({bounds_.room, (end - begin) / 2, most_compared / (end - begin)});
        for (std::size_t period = 1; period <= longest; ++period) {
            // Stretches over which everything equals what comes a period later.
            for (std::size_t i = begin; i + period < end; ++i) {
                if (items_[i].kind != items_[i + period].kind) continue;
                if (i > begin && items_[i - 1].kind == items_[i - 1 + period].kind)
                    continue; // in one that was seen
                const std::optional<Run> run = run_at(i, period, end, levels);
                if (run && (!best || run->gain > best->gain)) best = run;
            }
        }
        return best;
    }
    /// Of the places at which a run may begin the one whose body reads the same in every run like it.
    std::size_t begin_of(const Run& run) const {
        const auto body = [&](std::size_t shift) {
            std::vector<std::uint32_t> kinds;
            for (std::size_t k = 0; k < run.period; ++k) kinds.push_back(items_[run.first + shift + k].kind);
            return kinds;
        };
        std::size_t best = 0;
        for (std::size_t shift = 1; shift <= run.slack; ++shift)
            if (body(shift) < body(best)) best = shift;
        return run.first + best;
    }
    /// All runs of the period of one that save half as much.
    void fold(const Run& best) {
        const std::size_t period = best.period;
        std::vector<Item> left;
        for (std::size_t i = 0; i < items_.size();) {
            const bool begins = i + period < items_.size() && items_[i].kind == items_[i + period].kind;
            const std::optional<Run> run =
                begins ? run_at(i, period, items_.size(), bounds_.levels) : std::nullopt;
            if (!run || 2 * run->gain < best.gain) {
                left.push_back(std::move(items_[i++]));
                continue;
            }
            const std::size_t begin = begin_of(*run);
            while (i < begin) left.push_back(std::move(items_[i++]));
            left.push_back(loop(begin, *run));
            i = begin + run->period * run->copies;
        }
        items_ = std::move(left);
    }
    Item loop(std::size_t begin, const Run& run) {
        Item loop;
        loop.first = items_[begin].first;
        loop.span = loop.rows = 0;
        loop.passes = run.copies;
        std::vector<std::uint32_t> key{static_cast<std::uint32_t>(run.copies)};
        for (std::size_t k = begin; k < begin + run.period * run.copies; ++k) {
            loop.span += items_[k].span;
            if (k >= begin + run.period) continue;
            loop.rows += items_[k].rows;
            loop.depth = std::max(loop.depth, items_[k].depth + 1);
            key.push_back(items_[k].kind);
            loop.body.push_back(items_[k]);
        }
        const auto [known, fresh] = loops_.try_emplace(std::move(key), next_);
        if (fresh) ++next_;
        loop.kind = known->second;
        return loop;
    }

    std::vector<Item> items_;
    std::map<std::vector<std::uint32_t>, std::uint32_t> loops_; // kinds of loops
    std::uint32_t next_ = 0;
    Bounds bounds_;
};

} // namespace

std::optional<Folded> fold_anywhere(const Walked& walked, const timeline::Timeline& timeline,
                                    const program::Controller& controller) {
    const Rows& rows = walked.rows;
    if (controller.loop_levels == 0 || rows.size() < 2) return std::nullopt;
    const Bounds bounds{std::max<std::size_t>(2, controller.passes_lo), controller.passes_hi,
                        controller.segments > 0 ? controller.segments - 1 : 0,
                        std::min<std::size_t>(4, controller.loop_levels)};
    if (rows.size() > most_folded_rows) {
        const std::optional<std::vector<Item>> items = Shortening(rows, bounds).run();
        if (!items) return std::nullopt;
        return Anywhere(rows, *items, bounds,
                        [&](std::size_t i, std::size_t j) { return (*items)[i].kind == (*items)[j].kind; })
            .fold();
    }
    const Said said(rows, timeline);
    std::vector<Item> items(rows.size());
    for (std::size_t i = 0; i < items.size(); ++i) items[i].first = i;
    return Anywhere(rows, items, bounds,
                    [&](std::size_t i, std::size_t j) { return keyed_alike(rows, i, j) && said.alike(i, j); })
        .fold();
}

} // namespace athanor::legalise
