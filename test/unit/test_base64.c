/* base64: the test vectors of RFC 4648, section 10; what is refused; there and back for every length and byte. */
#include "base/base64.h"
#include "tap.h"

#include <string.h>

static void check_vectors(void)
{
    static const char *const rows[][2] = {{"", ""},
                                          {"f", "Zg=="},
                                          {"fo", "Zm8="},
                                          {"foo", "Zm9v"},
                                          {"foob", "Zm9vYg=="},
                                          {"fooba", "Zm9vYmE="},
                                          {"foobar", "Zm9vYmFy"}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct text to = {0}, back = {0};
        base64_add(&to, (const uint8_t *)rows[i][0], strlen(rows[i][0]));
        tap_ok(strcmp(to.data != NULL ? to.data : "", rows[i][1]) == 0,
               "\"%s\" as text (RFC 4648, 10)", rows[i][0]);
        tap_ok(base64_read(rows[i][1], strlen(rows[i][1]), &back) == ERR_OK &&
                   strcmp(back.data != NULL ? back.data : "", rows[i][0]) == 0,
               "\"%s\" and back", rows[i][1]);
        text_done(&to);
        text_done(&back);
    }
}

static void check_refused(void)
{
    static const char *const rows[] = {"Z",    "Zg",   "Zg=",      "Zg==Zg==", "=Zg=",
                                       "Z===", "====", "Zm9v\n",   "Zm 9",     "Zm-_",
                                       "Zh==", "Zm9=", "Zm9v\xff", "Zg=a"};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct text to = {0};
        text_puts(&to, "x");
        tap_ok(base64_read(rows[i], strlen(rows[i]), &to) == ERR_SYNTAX &&
                   strcmp(to.data, "x") == 0,
               "row %zu is refused, and nothing is appended (RFC 4648, 3.2 to 3.5)", i);
        text_done(&to);
    }
    struct text to = {0};
    tap_ok(base64_read("Zm\0v", 4, &to) == ERR_SYNTAX, "a zero is refused");
    text_done(&to);
}

static void check_back(void)
{
    uint8_t bytes[256];
    bool is_same = true;
    for (size_t i = 0; i < sizeof bytes; i++)
        bytes[i] = (uint8_t)(i * 37 + 11); /* each value once: 37 has no factor of 256 */
    for (size_t n = 0; n <= sizeof bytes; n++) {
        struct text to = {0}, back = {0};
        base64_add(&to, bytes, n);
        is_same = is_same && to.size == (n + 2) / 3 * 4 &&
                  base64_read(to.data != NULL ? to.data : "", to.size, &back) == ERR_OK &&
                  back.size == n && (n == 0 || memcmp(back.data, bytes, n) == 0);
        text_done(&to);
        text_done(&back);
    }
    tap_ok(is_same,
           "every length up to 256, every byte: there and back, four letters for three bytes");
}

int main(void)
{
    check_vectors();
    check_refused();
    check_back();
    return tap_done();
}
