#include "seal/interruption.hpp"

#include <array>
#include <cerrno>
#include <system_error>

#include <fcntl.h>
#include <poll.h>
#include <sys/signalfd.h>
#include <unistd.h>

namespace luxdossier::seal {
namespace {

bool is_ignored(int signal)
{
    struct sigaction action {};
    return sigaction(signal, nullptr, &action) == 0 && action.sa_handler == SIG_IGN;
}

/// Removes a tree that another thread may still be writing into: under a new name it gets no new files.
void remove_moving_aside(const std::filesystem::path& folder)
{
    std::error_code error;
    const std::filesystem::path aside = folder.string() + "-interrupted";
    std::filesystem::rename(folder, aside, error);
    std::filesystem::remove_all(error ? folder : aside, error);
}

[[noreturn]] void end_by(int signal)
{
    std::signal(signal, SIG_DFL);
    sigset_t one;
    sigemptyset(&one);
    sigaddset(&one, signal);
    pthread_sigmask(SIG_UNBLOCK, &one, nullptr);
    raise(signal);
    _exit(128 + signal);
}

}  // namespace

InterruptionGuard::InterruptionGuard()
{
    sigemptyset(&watched_);
    for (const int signal : {SIGINT, SIGTERM, SIGHUP})
        if (!is_ignored(signal))
            sigaddset(&watched_, signal);
    pthread_sigmask(SIG_BLOCK, &watched_, &mask_before_);
    signals_ = signalfd(-1, &watched_, SFD_CLOEXEC);
    std::array<int, 2> pipe{-1, -1};
    const bool is_open = signals_ >= 0 && pipe2(pipe.data(), O_CLOEXEC) == 0;
    auto error = errno;
    stopped_ = pipe[0];
    stop_ = pipe[1];
    try {
        if (is_open) {
            watcher_ = std::thread(&InterruptionGuard::watch, this);
            return;
        }
    } catch (const std::system_error& failure) {
        error = failure.code().value();
    }
    for (const int descriptor : {signals_, stopped_, stop_})
        if (descriptor >= 0)
            close(descriptor);
    pthread_sigmask(SIG_SETMASK, &mask_before_, nullptr);
    throw std::system_error(error, std::generic_category(), "cannot watch for interruptions");
}

InterruptionGuard::~InterruptionGuard()
{
    close(stop_);  // the other end of the pipe hangs up: nothing has to be written, so nothing can fail
    watcher_.join();
    close(signals_);
    close(stopped_);
    // A signal that came after the last look is delivered here, when nothing is half done any more.
    pthread_sigmask(SIG_SETMASK, &mask_before_, nullptr);
}

void InterruptionGuard::watch()
{
    std::array<pollfd, 2> descriptors{{{signals_, POLLIN, 0}, {stopped_, POLLIN, 0}}};
    while (poll(descriptors.data(), descriptors.size(), -1) < 0 && errno == EINTR) {
    }
    if ((descriptors[0].revents & POLLIN) == 0)
        return;
    signalfd_siginfo info{};
    if (read(signals_, &info, sizeof info) != static_cast<ssize_t>(sizeof info))
        return;
    mutex_.lock();  // never unlocked: whoever waits for it must not go on
    if (!folder_.empty())
        remove_moving_aside(folder_);
    end_by(static_cast<int>(info.ssi_signo));
}

}  // namespace luxdossier::seal
