#pragma once
#include "grammar/syntax.hpp"
#include "targets/layout/scale.hpp"
#include "targets/sheet/columns.hpp"
#include "targets/target.hpp"

#include <map>
#include <string>
#include <utility>
#include <vector>

/// Address and value writes by a register map that a user declares: `layout NAME for CONTROLLER { form
/// registers … }`. The data model is the open one of the Modbus Application Protocol V1.1b3: registers of 16
/// bits at addresses 0 to 65535.
namespace athanor::targets::registers {

enum class Type : std::uint8_t { int16, uint16, int32, uint32, float32 };

enum class What : std::uint8_t {
    enable,   // once: may the stored programmes be started?
    segments, // per programme: how many segments it holds, the end included
    next,
    threshold_output,
    threshold_temperature,
    threshold_above,
    kind, // per segment, as is all that follows
    target,
    rate,
    ramp_time,
    dwell,
    soak_band,
    outputs,
    output,
    channel,
    loop_start,
    loop_passes
};

struct Register {
    athanor::Span span;
    What what = What::kind;
    std::vector<std::string> of; // zone, output or outputs, channel; empty: the first
    std::uint32_t address = 0;
    Type type = Type::uint16;
    layout::Measure measure = layout::Measure::none;
    layout::Scale scale;
    std::int64_t none = 0;        // what stands for "nothing"
    std::int64_t on = 1, off = 0; // of `enable`
};

struct Map {
    std::string name, controller;
    athanor::Span span;
    bool high_first = true; // of the two words of a 32-bit value
    std::uint32_t programme_stride = 0, segment_stride = 0;
    std::vector<std::pair<std::string, std::int64_t>> kinds;
    std::vector<Register> registers;

    const Register* find(What what) const;
};

std::optional<Map> read_declaration(const Tree& tree, NodeId id, const Files& files, Diagnostics& out);

struct Write {
    std::uint16_t address = 0, value = 0;
    std::string meaning;
};

/// In the order in which they must be made: the programmes are shut off first and allowed last, so that a
/// transfer that breaks off anywhere leaves nothing that can be started (common practice, no source).
std::vector<Write> writes(const Map& map, const program::Program& program, std::vector<Loss>& losses);

/// The programme that a controller with these registers holds. `hand_overs`: what a person does before each
/// programme; no register holds it.
std::optional<program::Program> decode(const Map& map, const std::map<std::uint16_t, std::uint16_t>& memory,
                                       const std::map<std::uint32_t, std::string>& hand_overs,
                                       const program::Program& shape, ReadError& error);

/// STEM.MAP.json and the same writes as STEM.MAP.csv.
std::vector<OutputFile> write(const Map& map, const program::Program& program, const Context& context,
                              std::string_view stem);
std::optional<program::Program> read(const Map& map, std::string_view bytes, const program::Program& shape,
                                     ReadError& error);
std::vector<Loss> losses(const Map& map, const program::Program& program, const Context& context);

/// Of the register of a programme, counted from 1, and of its segment, from 0, where it is one per segment.
std::uint32_t address(const Map& map, const Register& reg, std::uint32_t programme, std::size_t segment);

// --- one value in its registers --------------------------------------------------------------------------
std::string_view name(Type type);
std::string_view name(What what);
/// Whose names `of` takes: outputs, channels, else zones.
sheet::Field names_of(What what);
unsigned words(Type type);
/// Least and greatest whole number; a float32 holds whole numbers exactly up to 2^24 (IEC 60559).
std::pair<std::int64_t, std::int64_t> range(Type type);
/// High word first or low word first, as the map says.
std::vector<std::uint16_t> pack(const Map& map, Type type, double value);
double unpack(const Map& map, Type type, const std::vector<std::uint16_t>& words);

} // namespace athanor::targets::registers
