// A library for LD_PRELOAD that lets one call of the program under test fail, so that tests can look at what
// is left. LUXDOSSIER_FAULT says which:
//   write:N:ERRNO  read:N:ERRNO  seek:N:ERRNO   the Nth call that reaches a file, counted from 1
//   malloc:N                                    the Nth allocation
//   swap:NAME:N                                 before the Nth opening of .../NAME, NAME.swap takes its place
//   count:FILE                                  nothing fails; how many calls there were goes to FILE
//   opened:FILE                                 nothing fails; paths opened for writing go to FILE
// Streams of the C library reach files without calling what could be taken over: they are opened as streams
// with functions of our own.

#include <array>
#include <atomic>
#include <cerrno>
#include <cstdarg>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <string>
#include <string_view>

#include <dlfcn.h>
#include <fcntl.h>
#include <sys/uio.h>
#include <unistd.h>

extern "C" {
void* __libc_malloc(std::size_t);
void* __libc_calloc(std::size_t, std::size_t);
void* __libc_realloc(void*, std::size_t);
}

namespace {

enum Kind { writing, reading, seeking, allocating, opening, kinds };

struct Plan {
    Kind kind = kinds;
    long number = 0;
    int error = EIO;
    bool counts = false, tells = false;
    std::array<char, 512> name{};
};

int error_of(std::string_view word)
{
    return word == "ENOSPC" ? ENOSPC : word == "EFBIG" ? EFBIG : EIO;
}

Plan read_plan()
{
    Plan plan;
    const char* const stated = std::getenv("LUXDOSSIER_FAULT");
    if (stated == nullptr)
        return plan;
    const std::string_view text(stated);
    const auto first = text.find(':');
    const auto word = text.substr(0, first);
    const auto rest = text.substr(first + 1);
    const auto second = rest.rfind(':');
    const auto keep = [&plan](std::string_view name) {
        std::memcpy(plan.name.data(), name.data(), std::min(name.size(), plan.name.size() - 1));
    };
    if (word == "count" || word == "opened") {
        (word == "count" ? plan.counts : plan.tells) = true;
        keep(rest);
    } else if (word == "swap") {
        plan.kind = opening;
        plan.number = std::atol(rest.data() + second + 1);
        keep(rest.substr(0, second));
    } else {
        plan.kind = word == "write"  ? writing
                    : word == "read" ? reading
                    : word == "seek" ? seeking
                                     : allocating;
        plan.number = std::atol(rest.data());
        plan.error = second == std::string_view::npos ? ENOMEM : error_of(rest.substr(second + 1));
    }
    return plan;
}

const Plan& plan()
{
    static const Plan one = read_plan();
    return one;
}

std::array<std::atomic<long>, kinds> counted{};
thread_local bool inside = false;  // what a fault itself asks for is not counted

bool fails(Kind kind)
{
    if (inside)
        return false;
    const auto number = ++counted.at(kind);
    if (plan().kind != kind || plan().number != number)
        return false;
    errno = plan().error;
    return true;
}

template <typename Function>
Function next(const char* name)
{
    return reinterpret_cast<Function>(dlsym(RTLD_NEXT, name));
}

void swap_before(const char* path)
{
    const std::string_view opened(path), name(plan().name.data());
    if (plan().kind != opening || !opened.ends_with(name) || ++counted.at(opening) != plan().number)
        return;
    const std::string other = std::string(path) + ".swap";
    std::rename(other.c_str(), path);
}

void tell_opened(const char* path)
{
    if (!plan().tells || inside)
        return;
    inside = true;
    static const auto open_it = next<int (*)(const char*, int, ...)>("open");
    const int log = open_it(plan().name.data(), O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0644);
    const std::string line = std::string(path) + "\n";
    static const auto write_it = next<ssize_t (*)(int, const void*, std::size_t)>("write");
    if (write_it(log, line.data(), line.size()) < 0)
        std::abort();
    close(log);
    inside = false;
}

ssize_t cookie_read(void* cookie, char* buffer, std::size_t size)
{
    static const auto call = next<ssize_t (*)(int, void*, std::size_t)>("read");
    return fails(reading) ? -1
                          : call(static_cast<int>(reinterpret_cast<std::intptr_t>(cookie)), buffer, size);
}
ssize_t cookie_write(void* cookie, const char* buffer, std::size_t size)
{
    static const auto call = next<ssize_t (*)(int, const void*, std::size_t)>("write");
    if (fails(writing))
        return 0;  // how such a function tells that it failed
    const auto written = call(static_cast<int>(reinterpret_cast<std::intptr_t>(cookie)), buffer, size);
    return written < 0 ? 0 : written;
}
int cookie_seek(void* cookie, off64_t* offset, int whence)
{
    static const auto call = next<off64_t (*)(int, off64_t, int)>("lseek64");
    if (fails(seeking))
        return -1;
    const auto at = call(static_cast<int>(reinterpret_cast<std::intptr_t>(cookie)), *offset, whence);
    if (at < 0)
        return -1;
    *offset = at;
    return 0;
}
int cookie_close(void* cookie)
{
    return close(static_cast<int>(reinterpret_cast<std::intptr_t>(cookie)));
}

std::FILE* stream_of(int descriptor, const char* mode)
{
    inside = true;
    auto* stream = fopencookie(reinterpret_cast<void*>(static_cast<std::intptr_t>(descriptor)), mode,
                               {cookie_read, cookie_write, cookie_seek, cookie_close});
    inside = false;
    return stream;
}

/// Streams of C++ take the descriptor of the stream that they open and call read() and write() themselves.
bool is_of_cpp_streams(const void* caller)
{
    Dl_info info{};
    return dladdr(caller, &info) != 0 && info.dli_fname != nullptr &&
           std::string_view(info.dli_fname).find("libstdc++") != std::string_view::npos;
}

std::FILE* open_stream(const char* path, const char* mode, const void* caller)
{
    if (is_of_cpp_streams(caller)) {
        static const auto call = next<std::FILE* (*)(const char*, const char*)>("fopen");
        swap_before(path);
        if (*mode != 'r')
            tell_opened(path);
        return call(path, mode);
    }
    const bool both = std::strchr(mode, '+') != nullptr;
    const int access = both ? O_RDWR : *mode == 'r' ? O_RDONLY : O_WRONLY;
    const int flags = *mode == 'w' ? O_CREAT | O_TRUNC : *mode == 'a' ? O_CREAT | O_APPEND : 0;
    const int descriptor = open(path, access | flags | O_CLOEXEC, 0666);
    return descriptor < 0 ? nullptr : stream_of(descriptor, mode);
}

struct TellCounts {
    ~TellCounts()
    {
        if (!plan().counts)
            return;
        inside = true;
        static const auto call = next<std::FILE* (*)(const char*, const char*)>("fopen");
        if (auto* out = call(plan().name.data(), "w")) {
            std::fprintf(out, "{\"write\": %ld, \"read\": %ld, \"seek\": %ld, \"malloc\": %ld}\n",
                         counted[writing].load(), counted[reading].load(), counted[seeking].load(),
                         counted[allocating].load());
            std::fclose(out);
        }
    }
} tell_counts;

}  // namespace

extern "C" {

ssize_t write(int descriptor, const void* buffer, std::size_t size)
{
    static const auto call = next<ssize_t (*)(int, const void*, std::size_t)>("write");
    return descriptor > 2 && fails(writing) ? -1 : call(descriptor, buffer, size);
}
ssize_t writev(int descriptor, const struct iovec* pieces, int count)
{
    static const auto call = next<ssize_t (*)(int, const struct iovec*, int)>("writev");
    return descriptor > 2 && fails(writing) ? -1 : call(descriptor, pieces, count);
}
ssize_t read(int descriptor, void* buffer, std::size_t size)
{
    static const auto call = next<ssize_t (*)(int, void*, std::size_t)>("read");
    return fails(reading) ? -1 : call(descriptor, buffer, size);
}
int open(const char* path, int flags, ...)
{
    static const auto call = next<int (*)(const char*, int, ...)>("open");
    va_list arguments;
    va_start(arguments, flags);
    const auto mode = va_arg(arguments, unsigned);
    va_end(arguments);
    swap_before(path);
    if ((flags & O_ACCMODE) != O_RDONLY)
        tell_opened(path);
    return call(path, flags, mode);
}
int open64(const char* path, int flags, ...)
{
    va_list arguments;
    va_start(arguments, flags);
    const auto mode = va_arg(arguments, unsigned);
    va_end(arguments);
    return open(path, flags, mode);
}
std::FILE* fopen(const char* path, const char* mode)
{
    return open_stream(path, mode, __builtin_return_address(0));
}
std::FILE* fopen64(const char* path, const char* mode)
{
    return open_stream(path, mode, __builtin_return_address(0));
}
std::FILE* fdopen(int descriptor, const char* mode)
{
    return stream_of(descriptor, mode);
}
void* malloc(std::size_t size)
{
    return fails(allocating) ? nullptr : __libc_malloc(size);
}
void* calloc(std::size_t count, std::size_t size)
{
    return fails(allocating) ? nullptr : __libc_calloc(count, size);
}
void* realloc(void* old, std::size_t size)
{
    return fails(allocating) ? nullptr : __libc_realloc(old, size);
}
}
