#include "compiler/driver/table_shape.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <string>
#include <vector>

namespace athanor::driver {
namespace {

/// "Out 1 2 4", the heading of a run sheet's outputs; empty: this is none.
std::string output_heading(std::string_view bytes) {
    const std::size_t begin = bytes.find("| Out ");
    if (begin == std::string_view::npos) return {};
    return std::string(bytes.substr(begin + 2, bytes.find('|', begin + 2) - begin - 2));
}

} // namespace

void shape_of(program::Program& shape, const timeline::Timeline& bench, std::string_view bytes,
              std::string_view declaration, bool json) {
    using program::OutputUse;
    auto written = [](std::string_view text, const std::string& word) {
        auto part = [](char c) {
            return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_';
        };
        for (std::size_t at = text.find(word); at != std::string_view::npos; at = text.find(word, at + 1)) {
            std::size_t end = at + word.size();
            if ((at == 0 || !part(text[at - 1])) && (end == text.size() || !part(text[end]))) return true;
        }
        return false;
    };
    std::vector<program::Output> all;
    for (timeline::Index i = 0; i < bench.lines.size(); ++i)
        if (bench.lines[i].output != 0)
            all.push_back({bench.lines[i].output, bench.lines[i].name, OutputUse::line, i,
                           bench.lines[i].open_without_power});
    auto device = [&](const timeline::Device& d, const char* name, OutputUse use) {
        if (d.present && d.output != 0) all.push_back({d.output, name, use, 0, d.on_without_power});
    };
    device(bench.burner, "burner", OutputUse::burner);
    device(bench.pump, "pump", OutputUse::pump);
    device(bench.bubbler, "bubbler", OutputUse::bubbler);
    device(bench.slide, "slide", OutputUse::slide);
    std::sort(all.begin(), all.end(), [](const auto& a, const auto& b) { return a.number < b.number; });
    std::string_view first = bytes.substr(0, bytes.find('\n'));
    // Our own CSV names every output in its first line, and a table without any may still say "stop pump".
    bool columns = first.starts_with("program,segment,kind,") ||
                   std::any_of(all.begin(), all.end(), [&](const program::Output& o) {
                       return written(first, fmt::format("out{}_{}", o.number, o.name));
                   });
    // A run sheet numbers its outputs in the heading of their column; their names may stand anywhere in its
    // text.
    const std::string numbers = output_heading(bytes);
    for (const program::Output& output : all) {
        bool there = !declaration.empty() ? written(declaration, output.name)
                     : columns            ? written(first, fmt::format("out{}_{}", output.number, output.name))
                     : !numbers.empty()
                         ? written(numbers, std::to_string(output.number))
                         : written(bytes, output.name) ||
                               written(bytes, fmt::format("out{}_{}", output.number, output.name));
        if (there) shape.outputs.push_back(output);
    }
    for (const timeline::Line& line : bench.lines) {
        if (!line.channel) continue;
        // In JSON a key names it; its words may stand in any text.
        const std::string name = json ? "\"" + line.name + "_sccm\"" : line.name + "_sccm";
        if (written(declaration.empty() ? bytes : declaration, name) ||
            (!declaration.empty() && written(declaration, line.name)))
            shape.channels.push_back(line.name);
    }
}

std::optional<program::Program> without_idle_channels(const targets::Target& target, std::string_view bytes,
                                                      const program::Program& shape) {
    const std::size_t count = shape.channels.size();
    std::vector<std::uint32_t> sets;
    for (std::uint32_t set = 1; count < 16 && set < 1U << count; ++set) sets.push_back(set);
    std::stable_sort(sets.begin(), sets.end(),
                     [](std::uint32_t a, std::uint32_t b) { return std::popcount(a) < std::popcount(b); });
    for (const std::uint32_t set : sets) {
        program::Program less = shape;
        less.channels.clear();
        std::uint32_t idle = 0; // outputs, as bits
        for (std::size_t c = 0; c < count; ++c) {
            if ((set >> c & 1U) == 0) {
                less.channels.push_back(shape.channels[c]);
                continue;
            }
            for (const program::Output& output : shape.outputs)
                if (output.use == program::OutputUse::line && output.name == shape.channels[c] &&
                    !output.on_without_power)
                    idle |= 1U << (output.number - 1);
        }
        if (std::popcount(idle) != std::popcount(set)) continue; // without an output it always flows
        targets::ReadError wrong;
        std::optional<program::Program> program = target.read(bytes, less, wrong);
        if (!program) continue;
        bool rests = true;
        for (const program::Part& part : program->parts) {
            rests = rests && part.thresholds.empty();
            for (const program::Segment& s : part.segments) rests = rests && (s.outputs & idle) == 0;
        }
        if (rests) return program;
    }
    return std::nullopt;
}

} // namespace athanor::driver
