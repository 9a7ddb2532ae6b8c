#include "compiler/driver/text_file.hpp"

#include "grammar/parse.hpp"

#include <array>
#include <cerrno>
#include <cstring>
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

namespace athanor::driver {

std::optional<std::string> read_file(const std::string& path, std::string& error) {
    int file = path == "-" ? STDIN_FILENO : ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
    if (file < 0) {
        error = std::strerror(errno);
        return std::nullopt;
    }
    std::string text;
    struct stat status {};
    if (::fstat(file, &status) == 0) {
        if (S_ISDIR(status.st_mode)) {
            error = "it is a folder";
            if (file != STDIN_FILENO) ::close(file);
            return std::nullopt;
        }
        if (S_ISREG(status.st_mode)) text.reserve(static_cast<std::size_t>(status.st_size) + 1);
    }
    std::array<char, 1U << 16U> buffer; // NOLINT: filled before it is read
    bool failed = false;
    while (text.size() <= max_file_bytes) {
        ssize_t n = ::read(file, buffer.data(), buffer.size());
        if (n < 0 && errno == EINTR) continue;
        if (n < 0) {
            error = std::strerror(errno);
            failed = true;
        }
        if (n <= 0) break;
        text.append(buffer.data(), static_cast<std::size_t>(n));
    }
    if (file != STDIN_FILENO) ::close(file);
    if (failed) return std::nullopt;
    return text;
}

} // namespace athanor::driver
