/* text: the buffer's life, and UTF-8 against the Unicode standard's own tables. */
#include "base/text.h"

#include "tap.h"

#include <stdint.h>
#include <string.h>

static void check_buffer(void)
{
    struct text t = {0};
    text_add(&t, "", 0);
    tap_ok(t.size == 0 && t.data != NULL && t.data[0] == '\0',
           "adding nothing gives an empty text");
    for (int i = 0; i < 1000; i++)
        text_printf(&t, "%d,", i % 10);
    tap_ok(t.size == 2000 && strlen(t.data) == 2000,
           "2000 bytes printed in 1000 pieces are all there");
    text_clear(&t);
    tap_ok(t.size == 0 && t.data[0] == '\0' && t.room > 2000, "cleared: empty, room kept");
    text_add(&t, "a\0b", 3);
    tap_ok(t.size == 3 && memcmp(t.data, "a\0b", 4) == 0,
           "bytes may hold NUL; one more NUL closes them");
    text_add(&t, "x", SIZE_MAX - 2);
    tap_ok(t.is_broken, "a size that cannot be had breaks the text");
    text_puts(&t, "more");
    tap_ok(t.size == 3, "a broken text takes nothing more");
    text_done(&t);
    tap_ok(t.data == NULL && t.size == 0 && t.room == 0 && !t.is_broken, "done: zero again");
    text_done(&t);
    tap_ok(true, "done twice is fine");
}

struct utf8_row {
    const char *what;
    const char *bytes;
    size_t bad_at; /* SIZE_MAX: well-formed */
};

/* Unicode standard 15.0, section 3.9: table 3-7 (well-formed sequences, first and last of every
 * row), tables 3-8 to 3-11 (ill-formed ones), from memory of the standard; each is also what
 * Python's strict decoder says. */
static const struct utf8_row utf8_rows[] = {
    {"table 3-7 row 1, last: U+007F", "\x7F", SIZE_MAX},
    {"table 3-7 row 2, first: U+0080", "\xC2\x80", SIZE_MAX},
    {"table 3-7 row 2, last: U+07FF", "\xDF\xBF", SIZE_MAX},
    {"table 3-7 row 3, first: U+0800", "\xE0\xA0\x80", SIZE_MAX},
    {"table 3-7 row 3, last: U+0FFF", "\xE0\xBF\xBF", SIZE_MAX},
    {"table 3-7 row 4, first: U+1000", "\xE1\x80\x80", SIZE_MAX},
    {"table 3-7 row 4, last: U+CFFF", "\xEC\xBF\xBF", SIZE_MAX},
    {"table 3-7 row 5, first: U+D000", "\xED\x80\x80", SIZE_MAX},
    {"table 3-7 row 5, last: U+D7FF", "\xED\x9F\xBF", SIZE_MAX},
    {"table 3-7 row 6, first: U+E000", "\xEE\x80\x80", SIZE_MAX},
    {"table 3-7 row 6, last: U+FFFF", "\xEF\xBF\xBF", SIZE_MAX},
    {"table 3-7 row 7, first: U+10000", "\xF0\x90\x80\x80", SIZE_MAX},
    {"table 3-7 row 7, last: U+3FFFF", "\xF0\xBF\xBF\xBF", SIZE_MAX},
    {"table 3-7 row 8, first: U+40000", "\xF1\x80\x80\x80", SIZE_MAX},
    {"table 3-7 row 8, last: U+FFFFF", "\xF3\xBF\xBF\xBF", SIZE_MAX},
    {"table 3-7 row 9, first: U+100000", "\xF4\x80\x80\x80", SIZE_MAX},
    {"table 3-7 row 9, last: U+10FFFF", "\xF4\x8F\xBF\xBF", SIZE_MAX},
    {"below row 2: C1 BF", "\xC1\xBF", 0},
    {"below row 3: E0 9F BF", "\xE0\x9F\xBF", 0},
    {"above row 5: ED A0 80, a surrogate", "\xED\xA0\x80", 0},
    {"below row 7: F0 8F BF BF", "\xF0\x8F\xBF\xBF", 0},
    {"above row 9: F4 90 80 80", "\xF4\x90\x80\x80", 0},
    {"F5 begins nothing", "\xF5\x80\x80\x80", 0},
    {"table 3-8 non-shortest: C0 AF", "\xC0\xAF", 0},
    {"table 3-8 non-shortest: E0 80 BF", "\xE0\x80\xBF", 0},
    {"table 3-8 non-shortest: F0 81 82 41", "\xF0\x81\x82\x41", 0},
    {"table 3-9 surrogates: ED A0 80 ED BF BF ED AF 41", "\xED\xA0\x80\xED\xBF\xBF\xED\xAF\x41", 0},
    {"table 3-10 others: F4 91 92 93 FF 41 80 BF 42", "\xF4\x91\x92\x93\xFF\x41\x80\xBF\x42", 0},
    {"table 3-11 truncated: E1 80 E2 F0 91 92 F1 BF 41", "\xE1\x80\xE2\xF0\x91\x92\xF1\xBF\x41", 0},
    {"section 3.9, D92: 41 C3 B1 42 is fine", "\x41\xC3\xB1\x42", SIZE_MAX},
    {"section 3.9: 41 C2 C3 B1 42, C2 is alone", "\x41\xC2\xC3\xB1\x42", 1},
    {"a tail without a head after text", "ab\x80", 2},
    {"a head without its tail at the end", "ab\xE2\x82", 2},
};

static void check_utf8_rows(void)
{
    for (size_t i = 0; i < sizeof utf8_rows / sizeof *utf8_rows; i++) {
        const struct utf8_row *r = &utf8_rows[i];
        size_t at = SIZE_MAX;
        const bool is_good = text_is_utf8(r->bytes, strlen(r->bytes), &at);
        tap_ok(is_good == (r->bad_at == SIZE_MAX) && at == r->bad_at, "%s (Unicode 15.0, 3.9)",
               r->what);
    }
    size_t at = SIZE_MAX;
    tap_ok(!text_is_utf8("a\0b", 3, &at) && at == 1,
           "NUL is refused though UTF-8 has it (our own rule)");
    tap_ok(text_is_utf8("", 0, NULL), "nothing is well-formed");
}

/* Counts what is accepted among all sequences; the number of scalar values per length is
 * arithmetic. */
static void check_utf8_counts(void)
{
    long n[4] = {0};
    uint32_t code;
    unsigned char b[4];
    for (unsigned i = 0; i < 0x1000000; i++) {
        b[0] = (unsigned char)(i >> 16);
        b[1] = (unsigned char)(i >> 8);
        b[2] = (unsigned char)i;
        if (b[0] >= 0xE0 && b[0] <= 0xEF)
            n[2] += text_decode((const char *)b, 3, &code) == 3;
        if (b[0] == 0 && b[1] >= 0x80)
            n[1] += text_decode((const char *)b + 1, 2, &code) == 2;
        if (i < 0x100)
            n[0] += text_decode((const char *)b + 2, 1, &code) == 1;
        /* Tails of four: only the edges 7F, 80, BF, C0 differ in what they mean. */
        static const unsigned char edges[] = {0x7F, 0x80, 0xBF, 0xC0};
        if (i < 0x100 * 16) {
            for (unsigned head = 0xF0; head <= 0xFF; head++) {
                const unsigned char f[4] = {(unsigned char)head, (unsigned char)(i >> 4),
                                            edges[i >> 2 & 3], edges[i & 3]};
                n[3] += text_decode((const char *)f, 4, &code) == 4;
            }
        }
    }
    tap_ok(n[0] == 0x80, "one byte: %ld accepted, U+0000..U+007F are 128", n[0]);
    tap_ok(n[1] == 0x800 - 0x80, "two bytes: %ld accepted, U+0080..U+07FF are 1920", n[1]);
    tap_ok(n[2] == 0x10000 - 0x800 - 0x800,
           "three bytes: %ld accepted, U+0800..U+FFFF less 2048 surrogates are 61440", n[2]);
    tap_ok(n[3] == (0x110000 - 0x10000) / 4096 * 4,
           "four bytes: %ld accepted, U+10000..U+10FFFF are 256 times 64 x 64, at 2 x 2 edges",
           n[3]);
}

static void check_decode(void)
{
    uint32_t code = 0;
    tap_ok(text_decode("\xE2\x82\xAC", 3, &code) == 3 && code == 0x20AC,
           "E2 82 AC is U+20AC (Unicode table 3-6)");
    tap_ok(text_decode("\xF0\x90\x8C\x82", 4, &code) == 4 && code == 0x10302,
           "F0 90 8C 82 is U+10302 (Unicode 3.9, example of D92, from memory)");
    tap_ok(text_decode("", 0, &code) == 0, "nothing decodes to nothing");
}

struct columns_row {
    const char *what, *s;
    size_t columns;
};

static const struct columns_row columns_rows[] = {
    {"ASCII", "2 1/2 in", 8},
    {"precomposed e acute: one, it is narrow (UAX 11)", "\xC3\xA9", 1},
    {"e and U+0301 combining acute: the mark takes none", "e\xCC\x81", 1},
    {"two ideographs: wide (UAX 11: W)", "\xE6\xBC\xA2\xE5\xAD\x97", 4},
    {"full-width A, U+FF21 (UAX 11: F)", "\xEF\xBC\xA1", 2},
    {"half-width katakana U+FF76 (UAX 11: H)", "\xEF\xBD\xB6", 1},
    {"Hangul syllable U+D55C (UAX 11: W)", "\xED\x95\x9C", 2},
    {"U+200B zero width space",
     "a\xE2\x80\x8B"
     "b",
     2},
    {"U+1F527 wrench (UAX 11: W)", "\xF0\x9F\x94\xA7", 2},
    {"Thai: KO KAI and a vowel sign above", "\xE0\xB8\x81\xE0\xB8\xB4", 1},
    {"an ill-formed byte is shown as one", "a\xFFz", 3},
    {"nothing", "", 0},
};

static void check_columns(void)
{
    for (size_t i = 0; i < sizeof columns_rows / sizeof *columns_rows; i++) {
        const struct columns_row *r = &columns_rows[i];
        tap_ok(text_columns(r->s, strlen(r->s)) == r->columns, "columns: %s", r->what);
    }
}

struct clean_row {
    const char *what, *s, *cleaned;
    bool keep_lines;
};

static const struct clean_row clean_rows[] = {
    {"plain text stays", "gap 2 1/2 in", "gap 2 1/2 in", false},
    {"letters beyond ASCII stay",
     "Stra\xC3\x9F"
     "e \xE6\xBC\xA2",
     "Stra\xC3\x9F"
     "e \xE6\xBC\xA2",
     false},
    {"an escape sequence loses its escape", "a\x1B[2Jb", "a?[2Jb", false},
    {"C1 control U+009B, an escape of its own",
     "a\xC2\x9B"
     "2J",
     "a?2J", false},
    {"line feed where one line is wanted", "a\nb", "a?b", false},
    {"line feed kept where lines are wanted", "a\nb", "a\nb", true},
    {"carriage return would overwrite the line", "good\rbad", "good?bad", true},
    {"U+202E turns the direction (UAX 9)",
     "a\xE2\x80\xAE"
     "b",
     "a?b", false},
    {"U+2066 isolates a direction (UAX 9)",
     "a\xE2\x81\xA6"
     "b",
     "a?b", false},
    {"ill-formed bytes, one mark each", "\xC0\xAF.", "??.", false},
    {"delete U+007F", "a\x7F", "a?", false},
};

static void check_clean(void)
{
    for (size_t i = 0; i < sizeof clean_rows / sizeof *clean_rows; i++) {
        const struct clean_row *r = &clean_rows[i];
        char s[64];
        const size_t n = strlen(r->s);
        memcpy(s, r->s, n);
        const size_t after = text_clean(s, n, r->keep_lines);
        tap_ok(after == strlen(r->cleaned) && memcmp(s, r->cleaned, after) == 0, "cleaned: %s",
               r->what);
    }
}

int main(void)
{
    check_buffer();
    check_utf8_rows();
    check_utf8_counts();
    check_decode();
    check_columns();
    check_clean();
    return tap_done();
}
