// Dependency files. What GNU Make and Ninja make of them is tried by running both
// (tests/build-systems); here are the escapes that both manuals give ("Rule Syntax" and "Using
// Wildcard Characters" of GNU Make 4.3; "Depfiles" of Ninja 1.11), and what is refused.

#include <doctest/doctest.h>

#include <string>

#include "batch/depfile.hpp"
#include "error.hpp"

using namespace rakelight;

namespace {

std::string refused(const std::string& target, const std::string& input) {
    try {
        depfile_text({{target, {input}}});
    } catch (const Error& error) {
        CHECK(error.code() == ExitCode::wrong_use);
        return error.what();
    }
    return "";
}

}  // namespace

TEST_CASE("depfile: rules, then an empty rule for each input") {
    CHECK(depfile_text({{"a/m.json", {"a.toml", "shell.ply"}}, {"b/m.json", {"shell.ply"}}}) ==
          "a/m.json: \\\n  a.toml \\\n  shell.ply\nb/m.json: \\\n  shell.ply\n\na.toml:\n\n"
          "shell.ply:\n");
}

TEST_CASE("depfile: spaces, hashes, colons, dollars and backslashes") {
    CHECK(depfile_text({{"o ut", {"a b#c:d$e\\f"}}}) ==
          "o\\ ut: \\\n  a\\ b\\#c\\:d$$e\\f\n\na\\ b\\#c\\:d$$e\\f:\n");
}

TEST_CASE("depfile: an input that would be a pattern or a variable as a target has no rule") {
    CHECK(depfile_text({{"out", {"50%", "a=b"}}}) == "out: \\\n  50% \\\n  a=b\n");
}

TEST_CASE("depfile: what cannot be written for both is refused by name") {
    for (const char* name :
         {"it's", "a;b", "a*b", "a[1]", "a?b", "a&b", "a|b", "a<b", "a>b", "a\"b", "a`b", "a^b",
          "a\tb", "a\nb", "a\\ b", "a\\#b", "a\\", "~a", "a(1)"}) {
        CAPTURE(name);
        CHECK(refused("out", name).find("in the name '" + std::string(name)) != std::string::npos);
    }
    CHECK(refused("50%", "in") != "");
    CHECK(refused("a=b", "in") != "");
    CHECK(refused("out", "sh\xC3\xA9ll(1).ply") == "");
}
