#include "targets/registers/registers.hpp"

#include <array>
#include <bit>
#include <limits>

namespace athanor::targets::registers {

std::string_view name(Type type) {
    switch (type) {
    case Type::int16: return "int16";
    case Type::uint16: return "uint16";
    case Type::int32: return "int32";
    case Type::uint32: return "uint32";
    case Type::float32: break;
    }
    return "float32";
}

std::string_view name(What what) {
    constexpr std::array<std::string_view, 17> names{"enable",
                                                     "segments",
                                                     "next_program",
                                                     "threshold_output",
                                                     "threshold_temperature",
                                                     "threshold_above",
                                                     "kind",
                                                     "target",
                                                     "rate",
                                                     "ramp_time",
                                                     "dwell",
                                                     "soak_band",
                                                     "outputs",
                                                     "output",
                                                     "channel",
                                                     "loop_start",
                                                     "loop_passes"};
    return names[static_cast<std::size_t>(what)];
}

sheet::Field names_of(What what) {
    switch (what) {
    case What::channel: return sheet::Field::channel;
    case What::output:
    case What::outputs: return sheet::Field::output;
    default: return sheet::Field::target;
    }
}

std::uint32_t address(const Map& map, const Register& reg, std::uint32_t programme, std::size_t segment) {
    const bool per_segment = reg.what >= What::kind;
    return reg.address + (programme - 1) * map.programme_stride +
           (per_segment ? static_cast<std::uint32_t>(segment) * map.segment_stride : 0);
}

unsigned words(Type type) {
    return type == Type::int16 || type == Type::uint16 ? 1 : 2;
}

std::pair<std::int64_t, std::int64_t> range(Type type) {
    switch (type) {
    case Type::int16: return {-32768, 32767};
    case Type::uint16: return {0, 65535};
    case Type::int32:
        return {std::numeric_limits<std::int32_t>::min(), std::numeric_limits<std::int32_t>::max()};
    case Type::uint32: return {0, std::numeric_limits<std::uint32_t>::max()};
    case Type::float32: break;
    }
    return {-(1 << 24), 1 << 24};
}

std::vector<std::uint16_t> pack(const Map& map, Type type, double value) {
    std::uint32_t bits = type == Type::float32 ? std::bit_cast<std::uint32_t>(static_cast<float>(value))
                                               : static_cast<std::uint32_t>(static_cast<std::int64_t>(value));
    auto low = static_cast<std::uint16_t>(bits & 0xFFFFU), high = static_cast<std::uint16_t>(bits >> 16U);
    if (words(type) == 1) return {low};
    return map.high_first ? std::vector{high, low} : std::vector{low, high};
}

double unpack(const Map& map, Type type, const std::vector<std::uint16_t>& words) {
    if (type == Type::uint16) return words[0];
    if (type == Type::int16) return static_cast<std::int16_t>(words[0]);
    std::uint32_t high = words[map.high_first ? 0 : 1], low = words[map.high_first ? 1 : 0];
    std::uint32_t bits = high << 16U | low;
    if (type == Type::float32) return static_cast<double>(std::bit_cast<float>(bits));
    return type == Type::uint32 ? static_cast<double>(bits)
                                : static_cast<double>(static_cast<std::int32_t>(bits));
}

} // namespace athanor::targets::registers
