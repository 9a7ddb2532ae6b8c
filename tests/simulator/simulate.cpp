#include "tests/simulator/simulate.hpp"

#include "tests/simulator/balance.hpp"

#include <algorithm>
#include <boost/numeric/odeint.hpp>
#include <cmath>
#include <fmt/format.h>
#include <random>
#include <stdexcept>

namespace athanor::simulator {

using timeline::EndingKind;
using timeline::LawKind;

namespace {

namespace ode = boost::numeric::odeint;
constexpr std::size_t most_steps = 400'000;
constexpr double arrived = 0.2; // K beyond the declared error from which a zone has yet to arrive

class Run {
public:
    Run(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline, const Draw& draw,
        std::optional<Fault> fault, const Options& options)
        : model_(model), rig_(rig), timeline_(timeline), draw_(draw), fault_(fault), options_(options),
          balance_(model, rig, timeline, draw), at_(balance_.layout), random_(draw.seed) {}

    Trajectory run();

private:
    void begin(std::size_t span);
    void start_from_room();
    void begin_phases(const std::vector<timeline::Law>& before);
    bool step_phases(double t);
    double afar() const;
    bool ends(const Vector& y) const;
    void integrate(std::size_t span, double duration, bool person);
    void sample(std::size_t span, double since, const Vector& y);
    void note(const Vector& y, double t);
    void clear(Extremes& e) const;
    void follow_fault(std::size_t span);
    std::string stuck(std::size_t span, double from, double to);

    const check::Model& model_;
    const check::Rig& rig_;
    const timeline::Timeline& timeline_;
    const Draw& draw_;
    std::optional<Fault> fault_;
    const Options& options_;
    Balance balance_;
    const Layout& at_;
    std::mt19937 random_;
    Vector y_;
    double time_ = 0, elapsed_ = 0, burning_ = 0;
    timeline::Ending ending_;
    bool in_room_ = true;      // no set-point but the start's yet
    bool open_ended_ = false;  // ends by a temperature or by a clock that may stop
    std::vector<bool> passed_; // a zone that has passed its target and is held there is not waited for again
    std::vector<double> flammable_;
    Trajectory out_;
};

void Run::clear(Extremes& e) const {
    e = {};
    e.fraction_lo.assign(at_.species, infinity);
    e.fraction_hi.assign(at_.species, 0);
}

/// K from a set-point beyond which a zone counts as not there yet: the declared error.
double Run::afar() const {
    const double error = rig_.furnace.control_error.given ? rig_.furnace.control_error.hi() : 2;
    return arrived + error;
}

/// Which way each zone comes to its set-point.
void Run::begin_phases(const std::vector<timeline::Law>& before) {
    for (std::size_t z = 0; z < at_.zones; ++z) {
        const timeline::Law& law = balance_.scene.laws[z];
        ZoneControl& c = balance_.scene.control[z];
        const ZoneControl was = c;
        c = {};
        // The set-point of the start is what is measured: it is tracked without coming from afar.
        if (before.empty() && law.kind == LawKind::hold) continue;
        if (law.kind == LawKind::line && law.rate != 0) {
            c.above = law.rate > 0 ? draw_.overshoot : -draw_.overshoot;
            continue;
        }
        const double error = afar(), aim = law.to, shown = balance_.measured(y_[at_.control(z)]);
        if (law.kind == LawKind::off) {
            c.phase = Phase::approaching;
            c.above = -draw_.overshoot;
            continue;
        }
        const bool same = !before.empty() && before[z].to == law.to;
        const bool line = !before.empty() && before[z].kind == LawKind::line && before[z].rate != 0;
        if (same && line && was.phase == Phase::tracking &&
            std::abs(shown - aim) < error + draw_.overshoot + std::abs(before[z].rate) * draw_.tracking) {
            c.phase = Phase::standing;
            c.above = was.above;
            c.stands_until = draw_.settling;
        } else if (same && was.phase != Phase::tracking && was.phase != Phase::idle) {
            c = was; // a person's wait, or another gas, does not trouble the controller
            c.stands_until -= out_.spans.empty() ? 0 : out_.spans.back().duration;
        } else if (std::abs(shown - aim) > error) {
            c.phase = Phase::approaching;
            c.above = shown < aim ? draw_.overshoot : -draw_.overshoot;
        }
    }
}

/// After a step. True when something turned.
bool Run::step_phases(double t) {
    bool turned = false;
    for (std::size_t z = 0; z < at_.zones; ++z) {
        if (ending_.kind == EndingKind::passes) {
            const double now = balance_.measured(y_[at_.control(z)]);
            const bool off = balance_.scene.laws[z].kind == LawKind::off;
            if (off ? now <= ending_.temperature : now >= ending_.temperature) passed_[z] = true;
        }
        ZoneControl& c = balance_.scene.control[z];
        const bool off = balance_.scene.laws[z].kind == LawKind::off;
        const double band = balance_.scene.band; // as in the balance: a controller asked for a band holds it
        const double error = band > 0 ? std::clamp(draw_.control_error, -0.5 * band + 0.1, 0.5 * band - 0.1)
                                      : draw_.control_error;
        const double aim =
            balance_.setpoint(z, y_[at_.clock()]) + (off && c.phase == Phase::approaching ? -0.15 : error);
        const double shown = balance_.measured(y_[at_.control(z)]);
        const timeline::Law& law = balance_.scene.laws[z];
        if (c.phase == Phase::approaching && law.kind == LawKind::line) {
            if (std::abs(shown - aim - c.above) < std::abs(law.rate) * draw_.tracking + 0.2) {
                c.phase = Phase::tracking;
                turned = true;
            }
        } else if (c.phase == Phase::approaching && !std::signbit(c.above) && shown >= aim) {
            c.phase = Phase::standing;
            c.stands_until = t + draw_.settling;
            turned = true;
        } else if (c.phase == Phase::approaching && std::signbit(c.above) && shown <= aim) {
            // Without power as far as it undershoots, or until it is held again.
            if (!std::isfinite(c.stands_until)) c.stands_until = t + draw_.settling;
            if (t >= c.stands_until) {
                c.phase = Phase::returning;
                turned = true;
            } else if (shown <= aim + c.above + 0.05) {
                c.phase = Phase::standing;
                if (off) c.stands_until = t;
                turned = true;
            }
        } else if (c.phase == Phase::standing && t >= c.stands_until) {
            c.phase = Phase::returning;
            turned = true;
        } else if (c.phase == Phase::returning && std::abs(shown - aim) < 0.05) {
            c.phase = Phase::tracking;
            c.above = 0;
            turned = true;
        }
    }
    return turned;
}

/// The timeline takes the middle of what the room may have for the set-point of the start; the controller takes
/// what it measures.
void Run::start_from_room() {
    const double nominal = rig_.ambient_temperature.value.middle();
    const double actual = balance_.measured(draw_.ambient_temperature);
    bool leaves = false;
    for (timeline::Law& law : balance_.scene.laws) {
        if (!in_room_) break;
        if (law.kind == LawKind::hold && law.to == nominal) {
            law.from = law.to = actual;
            continue;
        }
        leaves = true;
        if (law.kind == LawKind::line && law.from == nominal && law.to > actual && law.rate > 0) {
            law.rate *= (law.to - actual) / (law.to - law.from); // in the same time
            law.from = actual;
        }
    }
    in_room_ = in_room_ && !leaves;
}

void Run::begin(std::size_t span) {
    const timeline::Span& s = timeline_.spans[span];
    Scene& scene = balance_.scene;
    const std::vector<timeline::Law> before = scene.laws;
    scene.laws.assign(timeline_.laws_of(span), timeline_.laws_of(span) + at_.zones);
    start_from_room();
    scene.state = timeline_.states[s.state];
    ending_ = s.ending;
    scene.band = ending_.kind == EndingKind::band ? ending_.band : 0;
    open_ended_ = ending_.kind == EndingKind::band || ending_.kind == EndingKind::passes;
    y_[at_.clock()] = y_[at_.energy()] = 0;
    passed_.assign(at_.zones, false);
    begin_phases(before);
    for (timeline::Index a = 0; a < s.actions; ++a)
        if (timeline_.actions[s.first_action + a].kind == timeline::ActionKind::open_tube) {
            for (std::size_t i = 0; i < at_.species; ++i) y_[at_.free(i)] = y_[at_.pore(i)] = draw_.air[i];
            y_[at_.swept()] = 0;
        }
    if (balance_.lets_air_in(balance_.measured(y_[at_.control(0)]))) y_[at_.swept()] = 0;
    if (!scene.state.burner) burning_ = 0;
    balance_.settle(y_, 0);
}

bool Run::ends(const Vector& y) const {
    if (ending_.kind == EndingKind::band) return y[at_.clock()] >= ending_.duration;
    if (ending_.kind != EndingKind::passes) return false;
    bool cooling = false;
    for (const timeline::Law& law : balance_.scene.laws) cooling = cooling || law.kind == LawKind::off;
    for (std::size_t z = 0; z < at_.zones; ++z) {
        const bool off = balance_.scene.laws[z].kind == LawKind::off;
        if ((cooling && !off) || passed_[z]) continue;
        const double shown = balance_.measured(y[at_.control(z)]);
        if (off ? shown > ending_.temperature : shown < ending_.temperature) return false;
    }
    return true;
}

void Run::sample(std::size_t span, double since, const Vector& y) {
    Sample s;
    s.span = span;
    s.since = since;
    s.time = time_ + since;
    s.elapsed = elapsed_ + since;
    s.burning = balance_.scene.state.burner ? burning_ + since : 0;
    for (std::size_t z = 0; z < at_.zones; ++z)
        s.zones.push_back({balance_.setpoint(z, y[at_.clock()]), y[at_.control(z)], balance_.load(y, z)});
    const Flows f = balance_.flows(y, since);
    s.pressure = f.pressure;
    for (std::size_t i = 0; i < at_.species; ++i) {
        s.free.push_back(y[at_.free(i)]);
        s.pore.push_back(y[at_.pore(i)]);
    }
    s.swept = y[at_.swept()];
    s.flow = f.in;
    s.taken = f.taken;
    const double shown = balance_.measured(y[at_.control(0)]);
    for (std::size_t l = 0; l < rig_.lines.size(); ++l) s.lines.push_back(balance_.line_flow(l, shown));
    s.drawn_in = balance_.vented() ? std::max(0.0, -f.out) : 0;
    out_.samples.push_back(std::move(s));
}

void Run::note(const Vector& y, double t) {
    const Flows f = balance_.flows(y, t);
    for (Extremes* e : {&out_.extremes, &out_.spans.back().extremes}) {
        for (std::size_t z = 0; z < at_.zones; ++z) {
            const double control = y[at_.control(z)], load = balance_.load(y, z);
            e->hottest = std::max({e->hottest, control, load});
            e->coldest = std::min({e->coldest, control, load});
        }
        e->pressure_lo = std::min(e->pressure_lo, f.pressure);
        e->pressure_hi = std::max(e->pressure_hi, f.pressure);
        double free = 0, pore = 0;
        for (std::size_t i = 0; i < at_.species; ++i) {
            const double x = y[at_.free(i)], held = y[at_.pore(i)];
            e->fraction_lo[i] = std::min({e->fraction_lo[i], x, held});
            e->fraction_hi[i] = std::max({e->fraction_hi[i], x, held});
            free += flammable_[i] * x;
            pore += flammable_[i] * held;
        }
        e->flammability = std::max({e->flammability, free, pore});
        e->flow_lo = std::min(e->flow_lo, f.in);
        e->flow_hi = std::max(e->flow_hi, f.in);
        if (balance_.vented()) e->drawn_in = std::max(e->drawn_in, -f.out);
    }
}

std::string Run::stuck(std::size_t span, double from, double to) {
    std::string text = fmt::format("span {} stands still from {} to {} s:", span, from, to);
    Vector d;
    balance_(y_, d, from);
    for (std::size_t i = 0; i < y_.size(); ++i) text += fmt::format(" {:.12g} ({:.4g}/s)", y_[i], d[i]);
    return text;
}

/// `duration` infinite: until `ends`.
void Run::integrate(std::size_t span, double duration, bool person) {
    SpanRun& run = out_.spans.emplace_back();
    run.begin = time_;
    run.first = out_.samples.size();
    clear(run.extremes);
    std::vector<double> stops;
    std::uniform_real_distribution<> uniform(0, 1);
    if (std::isfinite(duration)) {
        for (int i = 0; i < options_.samples; ++i) stops.push_back(duration * std::pow(uniform(random_), 2));
        std::sort(stops.begin(), stops.end());
    } else {
        const double ratio = std::pow(3e4, 1.0 / std::max(1, options_.samples));
        for (double t = 3; t < options_.patience; t *= ratio) stops.push_back(t * (1 + 0.5 * uniform(random_)));
    }
    std::size_t next = 0;
    double t = 0;
    bool done = duration <= 0 || ends(y_);
    const std::size_t begun = out_.steps;
    Vector at(at_.size());
    note(y_, 0);
    if (options_.every_step) sample(span, 0, y_);
    while (!done) {
        auto stepper =
            ode::make_dense_output(1e-13, options_.accuracy, 600.0, ode::runge_kutta_dopri5<Vector>());
        stepper.initialize(y_, t, std::min(1.0, std::max(1e-3, 0.01 * t)));
        bool turned = false;
        while (!done && !turned) {
            const auto [from, to] = stepper.do_step(std::ref(balance_));
            // A model that makes no headway is a fault of the simulator, not of what it is compared with.
            if (++out_.steps - begun > most_steps || !std::isfinite(to))
                throw std::runtime_error(stuck(span, from, to));
            double stop = to;
            // The first phase that ends by the clock ends the step.
            for (const ZoneControl& c : balance_.scene.control)
                if ((c.phase == Phase::standing || c.phase == Phase::approaching) && c.stands_until > from)
                    stop = std::min(stop, c.stands_until);
            if (stop >= duration) {
                stop = duration;
                done = true;
            }
            stepper.calc_state(stop, y_);
            if (ends(y_)) { // bisect for the instant
                double lo = from, hi = stop;
                for (int i = 0; i < 50; ++i) {
                    const double middle = 0.5 * (lo + hi);
                    stepper.calc_state(middle, at);
                    (ends(at) ? hi : lo) = middle;
                }
                stop = hi;
                stepper.calc_state(stop, y_);
                done = true;
            }
            for (; next < stops.size() && stops[next] < stop; ++next) {
                stepper.calc_state(stops[next], at);
                sample(span, stops[next], at);
            }
            t = stop;
            note(y_, t);
            if (options_.every_step && !done) sample(span, t, y_);
            if (t > options_.patience && !std::isfinite(duration)) {
                run.ended = false;
                done = true;
            }
            turned = !done && (step_phases(t) || stop < to);
        }
    }
    step_phases(t);
    run.duration = t;
    run.energy = y_[at_.energy()];
    sample(span, t, y_);
    run.last = out_.samples.size();
    time_ += t;
    if (!person) elapsed_ += t;
    if (balance_.scene.state.burner) burning_ += t;
    balance_.settle(y_, t);
}

/// The power fails in `span`: what the equipment does without it.
void Run::follow_fault(std::size_t span) {
    Scene& scene = balance_.scene;
    for (std::size_t z = 0; z < at_.zones; ++z) {
        scene.laws[z] = {LawKind::off, scene.laws[z].to, 0, 0};
        scene.control[z] = {Phase::idle, 0, infinity};
    }
    scene.band = 0;
    scene.state.armed = 0;
    scene.state.regulated = 0;
    scene.state.pump = scene.state.pump && rig_.pump.open_without_power;
    scene.state.burner = scene.state.burner && rig_.exhaust.pilot;
    for (std::size_t l = 0; l < rig_.lines.size(); ++l) {
        const check::Line& line = rig_.lines[l];
        if (line.output == 0) continue; // worked by hand: stays
        if (!line.open_without_power) {
            scene.state.open[l] = false;
            continue;
        }
        scene.state.open[l] = true;
        if (line.meter.controlled) {
            scene.state.flows[l] = draw_.lines[l].without_power;
            continue;
        }
        // A hand meter keeps the flow that it was set to last.
        for (std::size_t i = span + 1; i-- > 0 && scene.state.flows[l] <= 0;)
            scene.state.flows[l] = timeline_.states[timeline_.spans[i].state].flows[l];
        if (scene.state.flows[l] <= 0) scene.state.flows[l] = draw_.lines[l].without_power;
    }
    if (!scene.state.burner) burning_ = 0;
    ending_ = {};
    y_[at_.clock()] = y_[at_.energy()] = 0;
    balance_.settle(y_, 0);
    integrate(timeline_.spans.size(), fault_->follow, false);
}

Trajectory Run::run() {
    flammable_.assign(at_.species, 0.0);
    for (std::size_t i = 0; i < at_.species; ++i)
        for (const check::Gas& gas : model_.gases)
            if (gas.name == timeline_.species[i] && gas.pure && gas.hazards.flammable && gas.lower_limit.given)
                flammable_[i] = 1 / gas.lower_limit.lo();
    clear(out_.extremes);
    y_.assign(at_.size(), 0.0);
    for (std::size_t z = 0; z < at_.zones; ++z)
        y_[at_.control(z)] = y_[at_.load(z)] = draw_.ambient_temperature;
    y_[at_.pressure()] = draw_.ambient_pressure;
    for (std::size_t i = 0; i < at_.species; ++i) y_[at_.free(i)] = y_[at_.pore(i)] = draw_.air[i];
    std::size_t waits = 0;
    std::uniform_real_distribution<> uniform(0, 1);
    for (std::size_t span = 0; span < timeline_.spans.size(); ++span) {
        begin(span);
        const timeline::Span& s = timeline_.spans[span];
        const bool person = s.ending.kind == EndingKind::person;
        double duration = infinity;
        if (person)
            duration = draw_.waits.empty() ? 0 : draw_.waits[waits++ % draw_.waits.size()];
        else if (!open_ended_)
            duration = s.duration.lo + uniform(random_) * (s.duration.hi - s.duration.lo);
        const bool fails = fault_ && fault_->at < time_ + duration;
        if (fails && !open_ended_) duration = fault_->at - time_;
        if (fails && open_ended_) { // whichever comes first
            Run ahead = *this;
            ahead.fault_.reset();
            ahead.integrate(span, infinity, false);
            if (ahead.time_ > fault_->at) {
                ending_ = {};
                duration = std::max(0.0, fault_->at - time_);
            }
        }
        integrate(span, duration, person);
        if (!out_.spans.back().ended) break;
        if (fault_ && time_ >= fault_->at) {
            follow_fault(span);
            break;
        }
    }
    return std::move(out_);
}

} // namespace

Trajectory simulate(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline,
                    const Draw& draw, std::optional<Fault> fault, const Options& options) {
    return Run(model, rig, timeline, draw, fault, options).run();
}

} // namespace athanor::simulator
