// Rows of bounds along a timeline.
#include "compiler/driver/trace.hpp"

#include "compiler/prove/walk.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

namespace athanor::driver {
namespace {

using timeline::SignalKind;

// A curve looks smooth when a straight line between two rows is this near to the value half way.
constexpr double close_kelvin = 2.0;
constexpr double close_decades = 0.02;
constexpr double floor_fraction = 1e-8; // below it nobody reads a difference
constexpr double floor_pascal = 1e-4;
// Rows of an adaptive span at its start: a purge is steepest there.
constexpr double first_shares[] = {1.0 / 512, 1.0 / 64, 1.0 / 16, 1.0 / 4, 1.0 / 2};

struct Sample {
    double after = 0;
    std::vector<Interval> values;
};

double setpoint_at(const timeline::Law& law, double after) {
    if (law.kind != timeline::LawKind::line) return law.to;
    double value = law.from + law.rate * after;
    return law.rate < 0 ? std::max(value, law.to) : std::min(value, law.to);
}

double length(const timeline::Span& span) {
    return span.ending.kind == timeline::EndingKind::person ? 0 : span.duration.middle();
}

/// On which scale the bend of a curve is judged; nothing for values that only step or grow evenly.
std::optional<double> height(Measure measure, double value) {
    switch (measure) {
    case Measure::temperature: return value / close_kelvin;
    case Measure::fraction: return std::log10(std::max(value, floor_fraction)) / close_decades;
    case Measure::pressure: return std::log10(std::max(value, floor_pascal)) / close_decades;
    case Measure::flow:
    case Measure::volumes:
    case Measure::time:
    case Measure::truth: return std::nullopt;
    }
    return std::nullopt;
}

class Tracer {
public:
    Tracer(const timeline::Timeline& timeline, const plant::Plant& plant,
           const std::vector<TraceColumn>& columns, Every every,
           const std::function<void(const TraceRow&)>& sink)
        : timeline_(timeline), plant_(plant), columns_(columns), every_(every), sink_(sink),
          walk_(prove::walk(timeline, plant)),
          // Thousands of short steps look the same with fewer rows each.
          depth_(timeline.spans.size() > 5000  ? 0
                 : timeline.spans.size() > 500 ? 3
                                               : 7) {}

    void run() {
        for (std::size_t i = 0; i < timeline_.spans.size(); ++i) over_span(i);
        TraceRow row;
        row.kind = RowKind::end;
        row.span = timeline_.spans.size();
        row.time = at_;
        row.instant = instant_;
        row.state = &timeline_.states[timeline_.end_state];
        if (!timeline_.spans.empty()) {
            const timeline::Law* laws = timeline_.laws_of(timeline_.spans.size() - 1);
            for (std::size_t z = 0; z < timeline_.zones.size(); ++z) row.setpoints.push_back(laws[z].to);
        } else
            row.setpoints.assign(timeline_.zones.size(), walk_.end.zones[0].setpoint);
        row.values = values(walk_.end, *row.state);
        sink_(row);
    }

private:
    std::vector<Interval> values(const plant::State& state, const timeline::State& discrete) const {
        std::vector<Interval> list;
        list.reserve(columns_.size());
        for (const TraceColumn& column : columns_)
            list.push_back(plant_.signal(column.signal, state, discrete));
        return list;
    }

    Sample sample(double after) const {
        const timeline::State& discrete = timeline_.states[timeline_.spans[span_].state];
        return {after, values(way_->during(after), discrete)};
    }

    void emit(RowKind kind, Sample&& sample) const {
        TraceRow row;
        row.kind = kind;
        row.span = span_;
        row.after = sample.after;
        row.time = at_ + sample.after;
        row.instant = instant_ + sample.after;
        row.state = &timeline_.states[timeline_.spans[span_].state];
        for (std::size_t z = 0; z < timeline_.zones.size(); ++z)
            row.setpoints.push_back(setpoint_at(timeline_.laws_of(span_)[z], sample.after));
        row.values = std::move(sample.values);
        sink_(row);
    }

    bool bends(const Sample& a, const Sample& middle, const Sample& b) const {
        for (std::size_t c = 0; c < columns_.size(); ++c) {
            if (columns_[c].signal.kind == SignalKind::dew_point) continue; // follows from water and pressure
            for (double Interval::*end : {&Interval::lo, &Interval::hi}) {
                auto height_of = [&](const Sample& s) { return height(columns_[c].measure, s.values[c].*end); };
                auto ha = height_of(a), hm = height_of(middle), hb = height_of(b);
                if (ha && hm && hb && std::abs(*hm - 0.5 * (*ha + *hb)) > 1) return true;
            }
        }
        return false;
    }

    void between(const Sample& a, const Sample& b, unsigned depth) const {
        if (depth == 0 || b.after - a.after < 2) return;
        Sample middle = sample(0.5 * (a.after + b.after));
        if (!bends(a, middle, b)) return;
        between(a, middle, depth - 1);
        Sample kept = middle;
        emit(RowKind::within, std::move(kept));
        between(middle, b, depth - 1);
    }

    void over_span(std::size_t index) {
        span_ = index;
        way_.emplace(plant_, walk_.entry(index), plant::drive(timeline_, index));
        const timeline::Span& span = timeline_.spans[index];
        const double total = length(span);
        const bool person = span.ending.kind == timeline::EndingKind::person;
        const timeline::State& discrete = timeline_.states[span.state];
        Sample last{0, values(walk_.entry(index), discrete)};
        emit(RowKind::entry, Sample(last));
        auto go_to = [&](double after) {
            Sample next = sample(after);
            if (!every_) between(last, next, depth_);
            emit(RowKind::within, Sample(next));
            last = std::move(next);
        };
        if (every_)
            for (double k = 1; k * *every_ < total; ++k) go_to(k * *every_);
        else if (total > 10 && depth_ > 0)
            for (double share : first_shares) go_to(share * total);
        if (total > 0) go_to(total);
        if (!person) instant_ = instant_ + span.duration;
        // The exit belongs to the end of the span, whenever that is.
        TraceRow row;
        row.kind = RowKind::exit;
        row.span = index;
        row.after = total;
        row.time = at_ + total;
        row.instant = instant_;
        row.state = &discrete;
        for (std::size_t z = 0; z < timeline_.zones.size(); ++z)
            row.setpoints.push_back(timeline_.laws_of(index)[z].to);
        row.values = values(walk_.arrival(index + 1), discrete);
        sink_(row);
        at_ += total;
    }

    const timeline::Timeline& timeline_;
    const plant::Plant& plant_;
    const std::vector<TraceColumn>& columns_;
    Every every_;
    const std::function<void(const TraceRow&)>& sink_;
    prove::Walk walk_;
    unsigned depth_;
    std::size_t span_ = 0;
    std::optional<plant::Plant::Way> way_; // of that span
    double at_ = 0;
    Interval instant_;
};

} // namespace

std::vector<TraceColumn> trace_columns(const timeline::Timeline& timeline) {
    std::vector<TraceColumn> list;
    auto index = [](std::size_t i) { return static_cast<timeline::Index>(i); };
    list.push_back({"hot_zone", Measure::temperature, {SignalKind::temperature, timeline::none}});
    for (std::size_t z = 0; z < timeline.zones.size(); ++z)
        list.push_back(
            {"zone_" + timeline.zones[z], Measure::temperature, {SignalKind::zone_temperature, index(z)}});
    list.push_back({"load", Measure::temperature, {SignalKind::load_temperature, timeline::none}});
    list.push_back({"pressure", Measure::pressure, {SignalKind::pressure, timeline::none}});
    for (std::size_t s = 0; s < timeline.species.size(); ++s)
        list.push_back({timeline.species[s], Measure::fraction, {SignalKind::fraction, index(s)}});
    list.push_back({"dew_point", Measure::temperature, {SignalKind::dew_point, timeline::none}});
    list.push_back({"flammability", Measure::fraction, {SignalKind::flammability, timeline::none}});
    list.push_back({"ignitability", Measure::fraction, {SignalKind::ignitability, timeline::none}});
    list.push_back({"swept", Measure::volumes, {SignalKind::swept, timeline::none}});
    list.push_back({"inflow", Measure::flow, {SignalKind::flow, timeline::none}});
    for (std::size_t l = 0; l < timeline.lines.size(); ++l) {
        if (!timeline.lines[l].used) continue;
        list.push_back({"flow_" + timeline.lines[l].name, Measure::flow, {SignalKind::flow, index(l)}});
        list.push_back({"open_" + timeline.lines[l].name, Measure::truth, {SignalKind::line_open, index(l)}});
    }
    if (timeline.burner.present)
        list.push_back({"burning", Measure::time, {SignalKind::burning, timeline::none}});
    return list;
}

void trace(const timeline::Timeline& timeline, const plant::Plant& plant,
           const std::vector<TraceColumn>& columns, Every every,
           const std::function<void(const TraceRow&)>& sink) {
    Tracer(timeline, plant, columns, every, sink).run();
}

double least_rows(const timeline::Timeline& timeline, Every every) {
    double rows = 1;
    for (const timeline::Span& span : timeline.spans)
        rows += 3 + (every ? std::floor(length(span) / *every) : 0);
    return rows;
}

} // namespace athanor::driver
