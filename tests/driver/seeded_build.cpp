// The program with back ends that write what the program does not say (tests/driver/faulty/).
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>

TEST_CASE("build with a faulty back end exits with 3 and writes nothing") {
    for (const char* name : {"faulty_dwell", "faulty_output", "faulty_bytes"}) {
        CAPTURE(name);
        Scratch scratch;
        const Result result =
            shell(std::string(ATHANOR_FAULTY) + " build " + project +
                      "/tests/examples/accepted/copper_sinter.ath --to csv," + name + " -o out/",
                  scratch.path());
        CHECK_MESSAGE(result.status == 3, result.err);
        CHECK(result.err.find("[table_mismatch]") != std::string::npos);
        CHECK(result.err.find("nothing was written") != std::string::npos);
        CHECK(!scratch.has("out"));
    }
}
