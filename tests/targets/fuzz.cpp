// Random damage to good tables: a reader either refuses with a message or reads a program that can be run and
// written again. Nothing crashes (run under the sanitizers as well).
#include "compiler/replay/replay.hpp"
#include "tests/targets/sample.hpp"

#include <doctest/doctest.h>

#include <random>

using namespace sample;

namespace {

std::string damaged(std::string bytes, std::mt19937& random) {
    auto pick = [&](std::size_t n) { return std::uniform_int_distribution<std::size_t>(0, n - 1)(random); };
    static const std::string alphabet = ",\"\r\n0123456789.-+eE{}[]:nulltruefalse'=\\ \xC3\xA9\xFF\x01";
    std::size_t changes = 1 + pick(4);
    for (std::size_t i = 0; i < changes && !bytes.empty(); ++i) {
        std::size_t at = pick(bytes.size());
        switch (pick(6)) {
        case 0: bytes[at] = alphabet[pick(alphabet.size())]; break;
        case 1: bytes.erase(at, 1 + pick(8)); break;
        case 2: bytes.insert(at, 1, alphabet[pick(alphabet.size())]); break;
        case 3: bytes.resize(at); break;
        case 4: bytes.insert(at, bytes.substr(pick(bytes.size()), pick(40))); break;
        case 5: {
            // A digit for another: most such tables are well formed and say something else.
            std::size_t digit = bytes.find_first_of("0123456789", at);
            if (digit != std::string::npos) bytes[digit] = static_cast<char>('0' + pick(10));
            break;
        }
        }
    }
    return bytes;
}

void fuzz(const char* format, unsigned seed, int rounds) {
    const targets::Target* target = targets::target_named(format);
    std::mt19937 random(seed);
    int read = 0, refused = 0;
    for (const program::Program& p : {bench(), zones()}) {
        std::string good = target->write(p, context(), "bench")[0].bytes;
        for (int i = 0; i < rounds; ++i) {
            std::string bytes = damaged(good, random);
            targets::ReadError error;
            auto back = target->read(bytes, p, error);
            if (!back) {
                ++refused;
                if (error.message.empty()) FAIL("refused without a message: " << bytes);
                continue;
            }
            ++read;
            replay::run(*back, 23);
            // What was read is written and read back without loss.
            std::string again = target->write(*back, context(), "bench")[0].bytes;
            auto twice = target->read(again, p, error);
            if (!twice || keyed(*twice) != keyed(*back))
                FAIL("read, but lost in writing: " << bytes << error.message);
        }
    }
    MESSAGE(std::string(format) << ": " << read << " damaged tables read, " << refused << " refused");
    CHECK(read > 0);
    CHECK(refused > 0);
}

} // namespace

TEST_CASE("damaged CSV tables") {
    fuzz("csv", 20240617, 4000);
}
TEST_CASE("damaged JSON tables") {
    fuzz("json", 20240618, 1500);
}
TEST_CASE("damaged run sheets") {
    fuzz("markdown", 20240619, 1500);
}
TEST_CASE("damaged structured text") {
    fuzz("structured_text", 20240620, 1500);
}
