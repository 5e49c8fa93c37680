#include "cli/cli.hpp"

int main(int argc, char** argv)
{
    return luxdossier::cli::run(argc, argv);
}
