// A limit that depends on a parameter is proven over the parameter's range.
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>

TEST_CASE("a limit that is too short between two ends that keep it is found") {
    const auto check = [](const std::string& least) {
        return athanor(
            {"check", "-", "--message-format", "short"}, project + "/recipes",
            "use \"rigs/quartz_bench.ath\"\nrecipe limits(share : fraction in " + least +
                " to 10 % = 10 %) on quartz_bench {\n    purge argon at 2.4 slm until oxygen < share at "
                "most 0.0001 h / share + 0.25 h\n    close all\n}\n");
    };
    // 0.01 % takes 54 min of 75, 10 % 7 of 15; 0.5 % takes 27 of 16.
    const Result refused = check("0.01 %");
    CHECK(refused.status == 1);
    CHECK_MESSAGE(refused.err.find("[condition_unreachable]") != std::string::npos, refused.err);
    const Result held = check("5 %");
    CHECK_MESSAGE(held.status == 0, held.err);
}
