/* yamlsay: owns the wording. Rows are tried in order; an empty context matches any. The texts on
 * the left are libyaml 0.2's. */
#include "bulletin/yamlsay.h"

#include <stddef.h>
#include <string.h>

static const struct {
    const char *problem, *context, *say;
} rows[] = {
    {"mapping values are not allowed", "",
     "a colon stands where no key can be: either the line is indented wrongly, or the text holds "
     "': ' and must be put in quotes"},
    {"block sequence entries are not allowed", "",
     "a dash stands where no list item can be: put the item on its own line below its key"},
    {"block mapping entries are not allowed", "",
     "a '?' stands where no key can be: put the text in quotes"},
    {"mapping keys are not allowed", "",
     "a '?' stands where no key can be: put the text in quotes"},
    {"could not find expected ':'", "",
     "a key without its colon: write `key: value`, and put text that runs over several lines in "
     "quotes"},
    {"did not find expected key", "",
     "the line does not fit the lines above: check that its indentation is that of its "
     "neighbours, and that quotes and brackets are closed"},
    {"did not find expected '-' indicator", "",
     "the line does not fit the list above: start the item with '- ', or indent the line below it"},
    {"did not find expected ',' or ']'", "",
     "the list that begins here with [ is not closed: a comma or ']' is missing"},
    {"did not find expected ',' or '}'", "",
     "the mapping that begins here with { is not closed: a comma or '}' is missing, or a text "
     "needs "
     "quotes,"},
    {"did not find expected node content", "",
     "a value is missing before this, or a comma, colon or bracket stands where none can be"},
    {"found unexpected end of stream", "scanning a quoted", "the quote is never closed"},
    {"found unexpected end of stream", "", "the file ends in the middle of something"},
    {"found unexpected document indicator", "", "a line of --- or ... stands inside a quoted text"},
    {"found unexpected document start", "", "a second document starts: a bulletin is one document"},
    {"did not find expected <document start>", "",
     "something stands after the end of the bulletin: check its indentation"},
    {"found unknown escape character", "",
     "a backslash in double quotes starts an escape that YAML does not know: use single quotes"},
    {"did not find expected hexdecimal number", "",
     "an escape in double quotes lacks its digits: use single quotes for a plain backslash"},
    {"found invalid Unicode character escape", "",
     "an escape names a character that does not exist"},
    {"found a tab character", "",
     "a tab is used to indent: YAML is indented by blanks only, two for each level"},
    {"found an indentation indicator equal to 0", "", "a block text cannot be indented by 0"},
    {"did not find expected comment or line break", "",
     "something follows | or > on the line: a block text begins on the next line"},
    {"did not find expected whitespace or line break", "", "a blank is missing here"},
    {"did not find expected alphabetic or numeric", "",
     "'*' and '&' start an alias or an anchor, which a bulletin may not use: put the text in "
     "quotes"},
    {"found undefined tag handle", "",
     "'!' starts a tag, which a bulletin may not use: put the "
     "text in quotes"},
    {"", "scanning a tag",
     "'!' starts a tag, which a bulletin may not use: put the text in quotes"},
    {"", "parsing a tag", "'!' starts a tag, which a bulletin may not use: put the text in quotes"},
    {"", "scanning a directive",
     "a line that starts with % is a YAML directive, which a bulletin "
     "does not need: delete it"},
    {"duplicate %", "", "a YAML directive is given twice: a bulletin needs none, delete them"},
    {"incompatible YAML document", "", "the %YAML line asks for another version: delete it"},
    {"control characters are not allowed", "", "a control character stands in the text: delete it"},
    {"exceeded maximum depth", "", "nested too deeply"},
};

const char *yamlsay(const char *problem, const char *context, char at)
{
    problem = problem != NULL ? problem : "";
    context = context != NULL ? context : "";
    if (strstr(problem, "cannot start any token") != NULL) {
        if (at == '\t')
            return "a tab is used to indent: YAML is indented by blanks only, two for each level";
        return "a text cannot start with this character unless it is in quotes";
    }
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        if (strstr(problem, rows[i].problem) != NULL && strstr(context, rows[i].context) != NULL)
            return rows[i].say;
    return "this is not YAML: check indentation, quotes and brackets near here";
}
