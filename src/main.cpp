#include "cli/app.hpp"

int main(int argc, char** argv) {
    return rakelight::run_command(argc, argv);
}
