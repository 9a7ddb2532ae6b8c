#pragma once
#include "compiler/legalise/ramp_shapes.hpp"

#include <optional>
#include <utility>
#include <vector>

/// The fewest segments in which one zone follows a line, over every settable set-point, rate, time and dwell.
///
/// Worked out from the end: for every set-point and every number of segments the instants from which that many
/// are enough. A piece takes a length of time that is settled by where it begins and ends, so that these
/// instants are a few stretches of time, as long as the instant's budget; the pieces stay inside the budget
/// about the line where their corners do, since the space about a straight line is convex.
namespace athanor::legalise {

/// Where a line may end, and what that costs behind it.
struct LineEnd {
    std::int64_t target = 0;
    std::size_t behind = 0; // segments from there to the end of all
};

/// A stretch of time, s.
struct Stretch {
    double lo = 0, hi = 0;
};
using Instants = std::vector<Stretch>; // apart, in order

class Fewest {
public:
    /// `ask.to` is not looked at. `starts`, degC, are the set-points that will be asked for.
    Fewest(const Keys& c, const RampAsk& ask, const std::vector<LineEnd>& ends,
           const std::vector<double>& starts);

    /// Segments of the line and behind it, from a set-point of `starts`; nothing where more than `most` are
    /// needed, or where the grids are too fine to try.
    std::optional<std::size_t> rows(double start, std::size_t most);
    /// A way with that many; among equals one whose corners lie near the line.
    std::optional<RampPlan> plan(double start, std::size_t most);
    /// Where that way ends.
    std::optional<std::int64_t> end(double start, std::size_t most);

private:
    static constexpr std::size_t most_for_times = 150;
    struct Node {
        double x = 0;             // K along the line from its beginning
        std::int64_t target = -1; // -1: a start between two settable set-points
        bool corner = false;      // a piece may end here and another begin
        bool start = false;
        std::optional<std::size_t> behind;
        Stretch near; // instants at which the line is inside the budget about x
    };
    struct Layer {
        std::vector<Instants> ramps;  // per node: instants from which a ramp goes on
        std::vector<Instants> enters; // the same, where a dwell may come first
    };

    /// A layer with the instants of each node as one stretch that holds them all; `lo` > `hi`: none.
    struct Hulls {
        std::vector<Stretch> ramps, enters;
    };

    Stretch near(double x) const;
    void weigh_rates();
    /// Where there are many set-points, a ramp by time begins at a start or ends at an end.
    bool by_time(const Node& from, const Node& to) const {
        return c_.ramp_time && (nodes_.size() <= most_for_times || from.start || to.behind);
    }
    void grow();
    std::size_t layer_work() const;
    /// Fewer segments than this do not reach the end from there, judged by the hulls: quick where the layers
    /// would be slow, and never more than are needed. Looked for up to `most`, above that any number.
    std::size_t at_least(std::size_t node, std::size_t most);
    void grow_hulls();
    void hull_rates(const Hulls& last, Hulls& next) const;
    void hull_times(const Hulls& last, Hulls& next) const;
    void hull_dwells(const Hulls& last, Hulls& next) const;
    void add_rates(const Layer& last, Layer& next);
    void add_times(const Layer& last, Layer& next);
    void add_dwells(const Layer& last, Layer& next);
    void add_ends(std::size_t rows, Layer& layer) const;
    std::size_t node_of(double start) const;
    /// Whether a piece that passes the end of the line in time is still near it there.
    bool passes(double x, double t, double to, double until) const;
    struct Step {
        std::size_t node = 0;
        RampPiece piece;
    };
    struct Way {
        std::vector<RampPiece> pieces;
        std::int64_t end = 0;
    };
    std::optional<Way> way(double start, std::size_t most);
    std::optional<Step> best_ramp(std::size_t node, double t, std::size_t rows) const;
    std::optional<Step> best_dwell(std::size_t node, double t, std::size_t rows) const;

    const Keys& c_;
    const RampAsk& ask_;
    double from_, sign_, length_, late_, fastest_;
    std::vector<Node> nodes_;
    std::vector<std::int64_t> rates_;
    bool too_many_ = false, settled_ = false, hulls_settled_ = false;
    std::size_t most_behind_ = 0;
    std::vector<Layer> layers_; // by number of segments
    std::vector<Hulls> hulls_;
    std::size_t work_ = 0;
    std::size_t visited_ = 0; // stretches, over all layers
};

} // namespace athanor::legalise
