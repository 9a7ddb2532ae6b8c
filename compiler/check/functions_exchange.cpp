// Functions of purging: by flow, by evacuating and filling, through leaks, while cooling.
#include "compiler/check/function_rows.hpp"
#include "compiler/physics/purge.hpp"

namespace athanor::check {

using namespace rows;

namespace {

constexpr std::string_view subject = "purging";
constexpr std::string_view crowl = "Crowl & Louvar, Chemical Process Safety, ch. 7 (from memory)";

FunctionParameter mixing() {
    FunctionParameter p = quantity("mixing", Kind::count, 0.05, 1);
    return otherwise(p, 1);
}
FunctionParameter supply() {
    return otherwise(share("supply"), 0);
}

/// The target lies between what the supply brings and what is there.
bool reachable(FunctionCall& c, std::size_t from, std::size_t to, std::size_t supply) {
    if (c[to] > c[supply] && c[to] < c[from]) return true;
    c.refuse(to, c[to] >= c[from]
                     ? "the target is not below the share at the start"
                     : "the target is not above what the supply itself carries: it is never reached");
    return false;
}

bool falling(FunctionCall& c, std::size_t low, std::size_t high) {
    if (c[low] < c[high]) return true;
    c.refuse(low, "the low pressure is not below the high one");
    return false;
}

double nothing() {
    return std::numeric_limits<double>::quiet_NaN();
}

} // namespace

void add_exchange_functions(Functions& into) {
    into.push_back(
        {"purge_time",
         subject,
         {positive("volume", Kind::volume), positive("flow", Kind::volume_flow), share("initial"),
          share("target"), mixing(), supply()},
         0,
         type_of(Kind::time),
         [](FunctionCall& c) {
             if (!reachable(c, 2, 3, 5)) return nothing();
             return physics::sweep_time(c[0], c[1], c[2], c[3], c[4], c[5]);
         },
         "time to sweep a well-mixed volume: V/(K Q) ln((initial - supply)/(target - supply)); the flow is "
         "that at the temperature and pressure of the volume",
         crowl,
         "purge_time(3.4 L, 1.5 L/min, 20.9 %, 10 ppm)",
         {}});
    into.push_back({"purge_volumes",
                    subject,
                    {share("initial"), share("target"), mixing(), supply()},
                    0,
                    type_of(Kind::count),
                    [](FunctionCall& c) {
                        if (!reachable(c, 0, 1, 3)) return nothing();
                        return physics::sweep_volumes(c[0], c[1], c[2], c[3]);
                    },
                    "volumes of gas that the same sweep takes",
                    crowl,
                    "purge_volumes(20.95 %, 1 %)",
                    {}});
    into.push_back({"purged_share",
                    subject,
                    {positive("volume", Kind::volume), positive("flow", Kind::volume_flow),
                     not_negative("time", Kind::time), share("initial"), mixing(), supply()},
                    0,
                    type_of(Kind::fraction),
                    [](FunctionCall& c) { return physics::swept_share(c[0], c[1], c[2], c[3], c[4], c[5]); },
                    "share left after a time of sweeping",
                    crowl,
                    "purged_share(5 L, 1 L/min, 20 min, 20.95 %)",
                    {}});
    into.push_back({"dilution_cycles",
                    subject,
                    {share("initial"), share("target"), positive("low", Kind::pressure),
                     positive("high", Kind::pressure), supply()},
                    0,
                    type_of(Kind::count),
                    [](FunctionCall& c) {
                        if (!reachable(c, 0, 1, 4) || !falling(c, 2, 3)) return nothing();
                        return physics::dilution_cycles(c[0], c[1], c[2], c[3], c[4]);
                    },
                    "whole cycles of evacuating to `low` and filling to `high` until a share is reached",
                    crowl,
                    "dilution_cycles(21 %, 1 ppm, 20 Torr, 760 Torr)",
                    {}});
    into.push_back(
        {"diluted_share",
         subject,
         {share("initial"), not_negative("cycles", Kind::count), positive("low", Kind::pressure),
          positive("high", Kind::pressure), supply()},
         0,
         type_of(Kind::fraction),
         [](FunctionCall& c) {
             if (!falling(c, 2, 3)) return nothing();
             return physics::diluted_share(c[0], c[1], c[2], c[3], c[4]);
         },
         "share left after cycles of evacuating and filling: supply + (initial - supply)(low/high)^cycles",
         crowl,
         "diluted_share(20.95 %, 2, 1 mbar, 1 atm, 3 ppm)",
         {}});
    into.push_back({"oxygen_from_leak",
                    subject,
                    {not_negative("leak", Kind::leak_rate), positive("flow", Kind::flow)},
                    0,
                    type_of(Kind::fraction),
                    [](FunctionCall& c) { return physics::oxygen_from_leak(c[0], c[1]); },
                    "oxygen that a leak of air at 20 degC adds to a flow of gas",
                    "dilution; air of 20.95 % oxygen",
                    "oxygen_from_leak(4.167e-3 mbar*L/s, 200 sccm)",
                    {}});
    into.push_back(
        {"sealed_pressure",
         subject,
         {positive("pressure", Kind::pressure), celsius("initial", -200, 3000), celsius("target", -200, 3000)},
         0,
         type_of(Kind::pressure),
         [](FunctionCall& c) { return physics::sealed_pressure(c[0], c[1], c[2]); },
         "pressure of a closed volume taken as a whole from one temperature to another",
         "ideal gas law",
         "sealed_pressure(101.325 kPa, 1000 degC, 20 degC)",
         {}});
    into.push_back({"make_up_flow",
                    subject,
                    {positive("volume", Kind::volume), celsius("temperature", -200, 3000),
                     not_negative("rate", Kind::rate),
                     otherwise(positive("pressure", Kind::pressure), physics::atmosphere)},
                    0,
                    type_of(Kind::flow),
                    [](FunctionCall& c) { return physics::make_up_flow(c[0], c[3], c[1], c[2]); },
                    "flow that keeps the pressure while a volume cools at a rate: p V rate/(R T^2)",
                    "ideal gas law, differentiated",
                    "make_up_flow(3 L, 800 degC, 10 K/min)",
                    {}});
}

} // namespace athanor::check
