// A load that is taken out hot on purpose, and a wait that only speaks of it.
#include "tests/prove/rules.hpp"

using namespace athanor;
using namespace athanor::prove::test;

TEST_CASE("a wait whose text begins like a quench is none") {
    const std::string heated = "open argon at 1 slm\nramp to 300 degC at 5 K/min\n";
    const auto advice = [&](const std::string& last) {
        auto c = on("", heated + last);
        REQUIRE_MESSAGE(c->done.complete, c->all());
        for (const Diagnostic& d : c->out.all()) {
            if (d.code != Code::opened_hot) continue;
            for (const std::string& cause : d.causes)
                if (cause.find("a quench is done hot on purpose") == 0) return std::string("quench");
            REQUIRE_FALSE(d.remedies.empty());
            return d.remedies.front();
        }
        return c->all();
    };
    CHECK(advice("quench in oil\n") == "quench");
    CHECK(advice("wait for operator \"quench in oil when it is cold\" with tube open\n").find("cool first:") ==
          0);
}
