/* base64: owns the two ways between bytes and their text. */
#include "base/base64.h"

#include <string.h>

static const char letters[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";

void base64_add(struct text *out, const uint8_t *bytes, size_t n)
{
    for (size_t i = 0; i < n; i += 3) {
        const bool has_two = n - i > 1, has_three = n - i > 2;
        const uint32_t b = (uint32_t)bytes[i] << 16 | (has_two ? (uint32_t)bytes[i + 1] << 8 : 0) |
                           (has_three ? bytes[i + 2] : 0);
        const char group[4] = {letters[b >> 18], letters[b >> 12 & 63],
                               has_two ? letters[b >> 6 & 63] : '=',
                               has_three ? letters[b & 63] : '='};
        text_add(out, group, sizeof group);
    }
}

/* 0..63; 64: none of the alphabet. */
static uint32_t value_of(char c)
{
    const char *at = c != '\0' ? strchr(letters, c) : NULL;
    return at != NULL ? (uint32_t)(at - letters) : 64;
}

/* How many bytes the group s[0..4) holds, written to bytes; 0: it is none. Padding only in the last group. */
static size_t read_group(const char *s, bool is_last, char bytes[3])
{
    const size_t n_pad = s[3] != '=' ? 0 : s[2] != '=' ? 1 : 2;
    uint32_t b = 0;
    if (n_pad > 0 && !is_last)
        return 0;
    for (size_t i = 0; i < 4; i++) {
        const uint32_t v = i < 4 - n_pad ? value_of(s[i]) : 0;
        if (v > 63)
            return 0;
        b = b << 6 | v;
    }
    if ((n_pad == 1 && (b & 0xffU) != 0) || (n_pad == 2 && (b & 0xffffU) != 0))
        return 0;
    for (size_t i = 0; i < 3; i++)
        bytes[i] = (char)(uint8_t)(b >> (16 - 8 * i));
    return 3 - n_pad;
}

enum err base64_read(const char *text, size_t n, struct text *out)
{
    const size_t before = out->size;
    if (n % 4 != 0)
        return ERR_SYNTAX;
    for (size_t i = 0; i < n; i += 4) {
        char bytes[3];
        const size_t k = read_group(text + i, i + 4 == n, bytes);
        if (k == 0) {
            out->size = before;
            if (out->data != NULL)
                out->data[before] = '\0';
            return ERR_SYNTAX;
        }
        text_add(out, bytes, k);
    }
    return ERR_OK;
}
