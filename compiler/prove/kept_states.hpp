#pragma once
#include "compiler/plant/plant.hpp"

#include <cstddef>
#include <cstdint>
#include <vector>

namespace athanor::prove {

/// States of the rig, side by side and each as long as what it has set. A plant::State has room for the most
/// zones and gases that a rig may have; of a long recipe two states a span are kept, and most of their memory
/// would be empty room.
class KeptStates {
public:
    /// Room for `count` states of at most so many zones and gases, so that what is kept need not move.
    void reserve(std::size_t count, std::size_t zones, std::size_t species);
    /// The state becomes the last one.
    void keep(const plant::State& state);
    plant::State operator[](std::size_t number) const;
    std::size_t size() const { return places_.size(); }

private:
    struct Place {
        std::uint32_t first = 0; // in `intervals_`
        std::uint8_t zones = 0, fractions = 0, pores = 0;
    };
    std::vector<Place> places_;
    std::vector<Interval> intervals_;
};

} // namespace athanor::prove
