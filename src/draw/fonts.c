/* fonts: owns the choice of the font. */
#include "draw/fonts.h"

#include <fontconfig/fontconfig.h>
#include <stddef.h>

/* As gcc says it, and as clang does. */
#if defined(__SANITIZE_ADDRESS__)
#define IS_CHECKED 1
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#define IS_CHECKED 1
#endif
#endif

#ifdef IS_CHECKED
/* Cairo and pango keep fontconfig's patterns until the process ends, where the leak checker can no longer see who holds them.
 * Nothing here asks fontconfig for anything that would have to be given back, so no leak of ours can hide behind this. The
 * names are the checker's. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void)
{
    return "leak:libfontconfig.so\n";
}
const char *__lsan_default_options(void);
const char *__lsan_default_options(void)
{
    return "print_suppressions=0";
}
#endif

void fonts_select(cairo_t *cr, bool is_bold)
{
    cairo_select_font_face(cr, "DejaVu Sans", CAIRO_FONT_SLANT_NORMAL,
                           is_bold ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
}

/* Asked of fontconfig itself: pango names families such as "Sans" whether or not any font stands behind them. */
bool fonts_any(void)
{
    const FcFontSet *fonts = FcConfigGetFonts(NULL, FcSetSystem);
    return fonts != NULL && fonts->nfont > 0;
}
