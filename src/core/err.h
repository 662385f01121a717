/* err: the one table of error codes.
 *
 * Three kinds are never mixed: our own bug (assert), bad input (a code from here with a place), the outside world
 * failing (ERR_IO, ERR_MEMORY). Functions that can fail return enum err, write their ret_ outputs only on ERR_OK,
 * and write reterr_ outputs only on failure. Numbers are never reused. */
#ifndef CORE_ERR_H
#define CORE_ERR_H

#define ERR_TABLE(X)                                                                               \
    X(ERR_OK, 0, "fine")                                                                           \
    X(ERR_EMPTY, 1, "nothing was given")                                                           \
    X(ERR_SYNTAX, 2, "cannot be read")                                                             \
    X(ERR_UNIT, 3, "the unit is unknown or of another kind")                                       \
    X(ERR_RANGE, 4, "the number is too large")                                                     \
    X(ERR_DOMAIN, 5, "outside the range in which this holds")                                      \
    X(ERR_LIMIT, 6, "more of them than allowed")                                                   \
    X(ERR_SPACE, 7, "the room given for the answer is too small")                                  \
    X(ERR_AMBIGUOUS, 8, "can be read in more than one way")                                        \
    X(ERR_IMPOSSIBLE, 9, "does not exist")                                                         \
    X(ERR_ORDER, 10, "the low end lies above the high end")                                        \
    X(ERR_IO, 11, "reading or writing failed")                                                     \
    X(ERR_MEMORY, 12, "memory ran out")                                                            \
    X(ERR_ENCODING, 13, "not valid UTF-8 text")                                                    \
    X(ERR_DUPLICATE, 14, "given twice")                                                            \
    X(ERR_UNKNOWN, 15, "not known here")                                                           \
    X(ERR_TYPE, 16, "of the wrong kind")                                                           \
    X(ERR_OPEN, 17, "cannot be opened as a file")                                                  \
    X(ERR_DENIED, 18, "is not allowed")                                                            \
    X(ERR_BUSY, 19, "has to wait")

enum err {
#define X(symbol, number, text) symbol = number,
    ERR_TABLE(X)
#undef X
};

#if defined(__GNUC__)
#define MUST_USE               __attribute__((warn_unused_result))
#define PRINTF_LIKE(fmt, args) __attribute__((format(printf, fmt, args)))
#else
#define MUST_USE
#define PRINTF_LIKE(fmt, args)
#endif

/* err_text: the sentence part for people, such as "cannot be read"; never NULL. Static, not to be freed. */
const char *err_text(enum err code);

/* err_symbol: the code's name, such as "ERR_SYNTAX"; "ERR_?" for a number that is not in the table. */
const char *err_symbol(enum err code);

#endif
