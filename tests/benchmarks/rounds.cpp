// Runs whole commands in turn (A B C A B C …) and prints medians and ratios to the first one, of the time that
// passes and of the processor's. Only ratios of one run mean anything: the machine's speed drifts, and every
// command of a round meets the same drift; on a machine with other work the processor's time says more. Usage:
// rounds ROUNDS "label" "command" ["label" "command" …]; output of the commands is thrown away.
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <fcntl.h>
#include <string>
#include <sys/resource.h>
#include <sys/time.h>
#include <sys/wait.h>
#include <unistd.h>
#include <vector>

namespace {

struct Command {
    std::string label;
    std::vector<std::string> words;
    std::vector<double> ms, cpu_ms;
    long peak_kib = 0;
    int status = 0;
};

std::vector<std::string> split(const std::string& text) {
    std::vector<std::string> words;
    for (std::size_t at = 0; at < text.size();) {
        std::size_t end = std::min(text.find(' ', at), text.size());
        if (end > at) words.push_back(text.substr(at, end - at));
        at = end + 1;
    }
    return words;
}

void run(Command& command, bool counts) {
    std::vector<char*> arguments;
    for (std::string& word : command.words) arguments.push_back(word.data());
    arguments.push_back(nullptr);
    auto begin = std::chrono::steady_clock::now();
    pid_t child = ::vfork();
    if (child == 0) {
        int null = ::open("/dev/null", O_WRONLY);
        ::dup2(null, STDOUT_FILENO);
        ::dup2(null, STDERR_FILENO);
        ::execvp(arguments[0], arguments.data());
        ::_exit(127);
    }
    int status = 0;
    rusage usage{};
    ::wait4(child, &status, 0, &usage);
    std::chrono::duration<double, std::milli> took = std::chrono::steady_clock::now() - begin;
    const auto used = [](const timeval& t) {
        return 1e3 * static_cast<double>(t.tv_sec) + 1e-3 * static_cast<double>(t.tv_usec);
    };
    if (counts) {
        command.ms.push_back(took.count());
        command.cpu_ms.push_back(used(usage.ru_utime) + used(usage.ru_stime));
    }
    command.peak_kib = std::max(command.peak_kib, usage.ru_maxrss);
    command.status = WIFEXITED(status) ? WEXITSTATUS(status) : 128;
}

} // namespace

int main(int argc, char** argv) {
    if (argc < 4 || argc % 2 != 0) return 2;
    int rounds = std::atoi(argv[1]);
    std::vector<Command> commands;
    for (int i = 2; i + 1 < argc; i += 2) commands.push_back({argv[i], split(argv[i + 1]), {}, {}, 0, 0});
    for (int round = 0; round <= rounds; ++round)
        for (Command& command : commands) run(command, round > 0); // the first round only warms up
    double base = 0, cpu_base = 0;
    for (Command& command : commands) {
        std::sort(command.ms.begin(), command.ms.end());
        std::sort(command.cpu_ms.begin(), command.cpu_ms.end());
        const double median = command.ms[command.ms.size() / 2];
        const double cpu = command.cpu_ms[command.cpu_ms.size() / 2];
        if (base == 0) base = median;
        if (cpu_base == 0) cpu_base = cpu;
        std::printf("%-44s %10.3f ms  (%.3f-%.3f)  x%-6.2f processor %10.3f ms  x%-6.2f %8.1f MiB%s\n",
                    command.label.c_str(), median, command.ms.front(), command.ms.back(), median / base, cpu,
                    cpu / cpu_base, static_cast<double>(command.peak_kib) / 1024,
                    command.status == 0 ? "" : "  failed");
    }
}
