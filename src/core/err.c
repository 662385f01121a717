/* err: owns the texts of the error codes, nothing else. */
#include "core/err.h"

const char *err_text(enum err code)
{
    switch (code) {
#define X(symbol, number, text)                                                                    \
    case symbol:                                                                                   \
        return text;
        ERR_TABLE(X)
#undef X
    }
    return "unknown fault";
}

const char *err_symbol(enum err code)
{
    switch (code) {
#define X(symbol, number, text)                                                                    \
    case symbol:                                                                                   \
        return #symbol;
        ERR_TABLE(X)
#undef X
    }
    return "ERR_?";
}
