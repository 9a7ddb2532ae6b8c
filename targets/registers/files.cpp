// The writes as files, and the way back.
#include "targets/csv/text.hpp"
#include "targets/layout/layout.hpp"
#include "targets/provenance.hpp"
#include "targets/registers/registers.hpp"
#include "targets/sheet/rows.hpp"

#include <algorithm>
#include <array>
#include <charconv>

#include <fmt/format.h>

namespace athanor::targets::registers {
namespace {

using Json = nlohmann::ordered_json;

constexpr const char* order_text =
    "make the writes in this order: they shut the stored programmes off first and allow them last, so that a "
    "transfer that breaks off leaves nothing that can be started; read all back and compare before the last "
    "one. "
    "No write starts a run";

std::string json_text(const Map& map, const program::Program& program, const Context& context,
                      const std::vector<Write>& list) {
    Json out;
    out["athanor_registers"] = 1;
    out["map"] = map.name;
    out["words"] = map.high_first ? "high_first" : "low_first";
    out["provenance"] = provenance_json(program, context);
    out["order"] = order_text;
    Json by_hand = Json::array();
    for (const program::Part& part : program.parts)
        if (!part.hand_over.empty()) by_hand.push_back({{"program", part.number}, {"before", part.hand_over}});
    out["by_hand"] = std::move(by_hand);
    Json instructions = Json::array();
    for (const program::Part& part : program.parts)
        for (std::size_t i = 0; i < part.segments.size(); ++i)
            if (!part.segments[i].instruction.empty())
                instructions.push_back({{"program", part.number},
                                        {"segment", i + 1},
                                        {"instruction", part.segments[i].instruction}});
    out["instructions"] = std::move(instructions);
    Json writes = Json::array();
    for (const Write& write : list)
        writes.push_back({{"address", write.address}, {"value", write.value}, {"meaning", write.meaning}});
    out["writes"] = std::move(writes);
    return out.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

std::string csv_text(const std::vector<Write>& list) {
    std::string out = "order,address,value,meaning\r\n";
    for (std::size_t i = 0; i < list.size(); ++i) {
        out += fmt::format("{},{},{},", i + 1, list[i].address, list[i].value);
        csv::append_field(out, csv::harmless(list[i].meaning));
        out += "\r\n";
    }
    return out;
}

struct Wrong {
    std::string message;
    std::size_t line = 0, column = 0;
};

std::uint16_t word_at(const Json& write, const char* key, std::size_t index) {
    auto found = write.is_object() ? write.find(key) : write.end();
    if (!write.is_object() || found == write.end() || !found->is_number_integer())
        throw Wrong{fmt::format("write {}: `{}` is no whole number", index + 1, key)};
    double value = found->get<double>();
    if (value < 0 || value > 65535)
        throw Wrong{fmt::format("write {}: `{}` is none of 0 to 65535", index + 1, key)};
    return static_cast<std::uint16_t>(value);
}

std::vector<Write> writes_of(const Map& map, const Json& json,
                             std::map<std::uint32_t, std::string>& hand_overs) {
    auto found = json.is_object() ? json.find("writes") : json.end();
    if (!json.is_object()) throw Wrong{"this is no JSON object (RFC 8259)"};
    if (json.value("athanor_registers", Json()) != 1 || found == json.end() || !found->is_array())
        throw Wrong{"this is no list of register writes"};
    if (const Json named = json.value("map", Json()); !named.is_null() && named != map.name)
        throw Wrong{fmt::format("it is a list for the register map {}, not for {}", named.dump(), map.name)};
    const std::string_view order = map.high_first ? "high_first" : "low_first";
    if (const Json words = json.value("words", Json()); !words.is_null() && words != order)
        throw Wrong{fmt::format("its words stand {}, those of {} {}", words.dump(), map.name, order)};
    std::vector<Write> list;
    for (std::size_t i = 0; i < found->size(); ++i)
        list.push_back({word_at((*found)[i], "address", i), word_at((*found)[i], "value", i), ""});
    if (auto by_hand = json.find("by_hand"); by_hand != json.end() && by_hand->is_array())
        for (std::size_t i = 0; i < by_hand->size(); ++i) {
            const Json& one = (*by_hand)[i];
            if (!one.is_object() || !one.contains("before") || !one["before"].is_string())
                throw Wrong{"by_hand: a programme and a text are expected"};
            hand_overs[word_at(one, "program", i)] = one["before"].get<std::string>();
        }
    return list;
}

/// The same writes as rows of CSV; what a person does between programmes is not in them.
std::vector<Write> writes_of(std::string_view csv_bytes, std::vector<std::size_t>& lines) {
    std::vector<std::vector<csv::Cell>> rows;
    ReadError wrong;
    if (!csv::split(csv_bytes, rows, wrong)) throw Wrong{wrong.message, wrong.line, wrong.column};
    const std::vector<std::string_view> titles{"order", "address", "value", "meaning"};
    const bool titled =
        !rows.empty() && std::equal(rows[0].begin(), rows[0].end(), titles.begin(), titles.end(),
                                    [](const csv::Cell& a, auto b) { return a.text == b; });
    if (!titled) throw Wrong{"a list of register writes begins with order,address,value,meaning", 1, 1};
    std::vector<Write> list;
    for (std::size_t i = 1; i < rows.size(); ++i) {
        const std::vector<csv::Cell>& row = rows[i];
        if (row.size() != titles.size())
            throw Wrong{fmt::format("{} fields, a write has {}", row.size(), titles.size()), row[0].line, 1};
        std::array<std::uint32_t, 3> figures{};
        for (std::size_t k = 0; k < figures.size(); ++k) {
            const std::string& text = row[k].text;
            const auto [end, code] = std::from_chars(text.data(), text.data() + text.size(), figures[k]);
            if (code != std::errc{} || end != text.data() + text.size() || (k > 0 && figures[k] > 65535))
                throw Wrong{fmt::format("`{}` is none of 0 to 65535", text), row[k].line, row[k].column};
        }
        if (figures[0] != i)
            throw Wrong{fmt::format("write {} stands at the place of write {}", figures[0], i), row[0].line,
                        row[0].column};
        list.push_back({static_cast<std::uint16_t>(figures[1]), static_cast<std::uint16_t>(figures[2]), ""});
        lines.push_back(row[0].line);
    }
    return list;
}

/// Shut off first, allowed last, and never in between: said apart, since this is what a transfer rests on.
void in_safe_order(const Map& map, const std::vector<Write>& list) {
    const Register& enable = *map.find(What::enable);
    std::vector<std::uint16_t> off = pack(map, enable.type, static_cast<double>(enable.off));
    std::vector<std::uint16_t> on = pack(map, enable.type, static_cast<double>(enable.on));
    std::size_t n = off.size();
    if (list.size() < 2 * n) throw Wrong{"the writes neither shut the programmes off nor allow them"};
    for (std::size_t i = 0; i < list.size(); ++i) {
        bool its = list[i].address >= enable.address && list[i].address < enable.address + n;
        bool first = i < n, last = i >= list.size() - n;
        std::size_t word = first ? i : i - (list.size() - n);
        if (first && (list[i].address != enable.address + word || list[i].value != off[word]))
            throw Wrong{"the first write does not shut the stored programmes off"};
        if (last && (list[i].address != enable.address + word || list[i].value != on[word]))
            throw Wrong{"the last write does not allow the programmes"};
        if (its && !first && !last) throw Wrong{fmt::format("write {} moves `enable` half-way", i + 1)};
    }
}

/// Only what `write` would make of some programme is read: a bit of a valve that the recipe never moves, a
/// register of another row's kind, a write to a foreign address act on the furnace, too, and a decoder that
/// looks only for what it needs would not see them.
void as_written(const Map& map, const program::Program& program, const std::vector<Write>& list,
                const std::vector<std::size_t>& lines) {
    std::vector<Loss> losses;
    const std::vector<Write> own = writes(map, program, losses);
    if (!losses.empty()) throw Wrong{losses.front().message};
    for (std::size_t i = 0; i < std::max(list.size(), own.size()); ++i) {
        const std::size_t line = i < lines.size() ? lines[i] : 0, column = line > 0 ? 1 : 0;
        if (i >= own.size())
            throw Wrong{fmt::format("write {} has no place: the programme ends before it", i + 1), line,
                        column};
        if (i >= list.size())
            throw Wrong{fmt::format("a write is missing behind the last: {} to address {} ({})", own[i].value,
                                    own[i].address, own[i].meaning)};
        if (list[i].address == own[i].address && list[i].value == own[i].value) continue;
        const std::string there = list[i].address == own[i].address
                                      ? fmt::format("{} to address {}", list[i].value, list[i].address)
                                      : fmt::format("a write to address {}", list[i].address);
        throw Wrong{fmt::format("write {} is {}; this programme has {} to address {} there ({})", i + 1, there,
                                own[i].value, own[i].address, own[i].meaning),
                    line, column};
    }
}

} // namespace

std::vector<OutputFile> write(const Map& map, const program::Program& program, const Context& context,
                              std::string_view stem) {
    std::vector<Loss> losses;
    std::vector<Write> list = writes(map, program, losses);
    std::string name = fmt::format("{}.{}", stem, map.name);
    return {{name + ".json", json_text(map, program, context, list)}, {name + ".csv", csv_text(list)}};
}

std::optional<program::Program> read(const Map& map, std::string_view bytes, const program::Program& shape,
                                     ReadError& error) {
    try {
        std::map<std::uint32_t, std::string> hand_overs;
        std::vector<std::size_t> lines; // of a list in rows
        const std::size_t begin = bytes.find_first_not_of(" \t\r\n");
        const bool rows = begin != std::string_view::npos && bytes[begin] != '{' && bytes[begin] != '[';
        const std::vector<Write> list =
            rows ? writes_of(bytes, lines) : writes_of(map, Json::parse(bytes, nullptr, false), hand_overs);
        std::map<std::uint16_t, std::uint16_t> memory;
        for (const Write& one : list) memory[one.address] = one.value;
        in_safe_order(map, list);
        std::optional<program::Program> program = decode(map, memory, hand_overs, shape, error);
        if (program) as_written(map, *program, list, lines);
        return program;
    } catch (const Wrong& wrong) {
        error = {wrong.line, wrong.column, wrong.message};
        return std::nullopt;
    }
}

std::vector<Loss> losses(const Map& map, const program::Program& program, const Context& context) {
    std::vector<Loss> list;
    std::vector<std::string> named;
    for (const Register& reg : map.registers)
        if (reg.what == What::output || reg.what == What::outputs)
            named.insert(named.end(), reg.of.begin(), reg.of.end());
    if (std::string forgotten = layout::forgotten_outputs(named, program); !forgotten.empty())
        return {{Code::layout_loses, map.span,
                 fmt::format("register map {} loses what is keyed: {}", map.name, forgotten)}};
    std::vector<Write> made = writes(map, program, list);
    if (!list.empty()) return list;
    ReadError error;
    std::optional<program::Program> back = read(map, json_text(map, program, context, made), program, error);
    if (!back) {
        list.push_back({Code::layout_loses, map.span,
                        fmt::format("the registers of {} cannot be read back: {}", map.name, error.message)});
        return list;
    }
    constexpr std::size_t enough = 4;
    std::vector<std::string> differences = sheet::differences(program, *back);
    for (std::size_t i = 0; i < std::min(enough, differences.size()); ++i)
        list.push_back({Code::layout_loses, map.span,
                        fmt::format("register map {} loses what is keyed: {}", map.name, differences[i])});
    return list;
}

} // namespace athanor::targets::registers
