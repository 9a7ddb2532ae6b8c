#include "targets/sha256.hpp"

#include <nettle/sha2.h>

#include <array>

namespace athanor::targets {

std::string sha256_hex(std::string_view bytes) {
    sha256_ctx context;
    nettle_sha256_init(&context);
    nettle_sha256_update(&context, bytes.size(), reinterpret_cast<const std::uint8_t*>(bytes.data()));
    std::array<std::uint8_t, SHA256_DIGEST_SIZE> digest{};
    nettle_sha256_digest(&context, digest.size(), digest.data());
    constexpr std::string_view digits = "0123456789abcdef";
    std::string text;
    for (std::uint8_t byte : digest) {
        text += digits[byte >> 4U];
        text += digits[byte & 15U];
    }
    return text;
}

} // namespace athanor::targets
