// What a file says is shown, and never acted on by a terminal.

#include <doctest/doctest.h>

#include <string>

#include "printable.hpp"
#include "test_model_support.hpp"

using namespace rakelight;
using namespace model_test;

// RFC 3629, section 4; ECMA-48 for the control characters; from memory.
TEST_CASE("control characters, separators, turning marks and broken UTF-8 become underscores") {
    CHECK(printable("Ammonit \xC3\xA4 \xE8\x8F\x8A \xF0\x9F\x90\x9A") ==
          "Ammonit \xC3\xA4 \xE8\x8F\x8A \xF0\x9F\x90\x9A");
    CHECK(printable("a\x1B[31m\n\r\tb\x7F") == "a_[31m___b_");
    CHECK(printable("\xC2\x9B"
                    "31m") == "_31m");                                  // U+009B, CSI
    CHECK(printable("\xC2\x85 \xE2\x80\xA8 \xE2\x80\xAE") == "_ _ _");  // U+0085, 2028, 202E
    CHECK(printable("\xC2\xA0") == "\xC2\xA0");                         // U+00A0 is the next one
    CHECK(printable("\xC4") == "_");                                    // cut short
    CHECK(printable("\xC0\xAF \xED\xA0\x80 \xF4\x90\x80\x80") == "__ ___ ____");
    CHECK(valid_utf8("\x1B\xC4mmonit") == "\x1B_mmonit");
}

TEST_CASE("names and refusals of a file are shown without what a terminal acts on") {
    const TemporaryFolder folder;
    const auto package = [&](const std::string& unit, const std::string& name) {
        write(
            folder / "a.3mf",
            as_zip(
                {{"_rels/.rels",
                  R"(<Relationships><Relationship Target="/a.model" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>)"},
                 {"a.model",
                  "<model unit=\"" + unit + R"("><resources><object id="1" name=")" + name +
                      R"("><mesh><vertices><vertex x="0" y="0" z="0"/><vertex x="1" y="0" z="0"/>
<vertex x="0" y="1" z="0"/></vertices><triangles><triangle v1="0" v2="1" v3="2"/></triangles></mesh></object>
</resources><build><item objectid="1"/></build></model>)"}}));
        return folder / "a.3mf";
    };
    const Mesh mesh = load_model(package("millimeter", "a&#x1b;[31m&#x9b;31m"), no_cache());
    CHECK(mesh.parts()[0].name == "a_[31m_31m");
    const std::string message = bad_model_message(package("el&#x1b;]0;l&#7;", "a"));
    CHECK(message.find("el_]0;l_") != std::string::npos);
    CHECK(message.find('\x1B') == std::string::npos);
}
