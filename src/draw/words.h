/* words: our own words on paper, in each of our languages; the bulletin's texts are the bulletin's. Complete by construction: a line
 * of the table gives all three. */
#ifndef DRAW_WORDS_H
#define DRAW_WORDS_H

enum words_language { WORDS_EN, WORDS_ES, WORDS_FR, WORDS_LANGUAGE_N };

/* symbol, English, Spanish, French. %s: what is put in, in the same order in all three. */
#define WORDS_TABLE(X)                                                                                \
    X(W_SHEET, "Job sheet", "Hoja de trabajo", "Fiche de travail")                                    \
    X(W_REVISION, "revision %s", "revisión %s", "révision %s")                                        \
    X(W_ISSUED, "issued %s", "emitido el %s", "publié le %s")                                         \
    X(W_INVENTED, "Invented, for practice: repair nothing by it.",                                    \
      "Inventado, para practicar: no repare nada con esto.",                                          \
      "Inventé, pour s'exercer : ne réparez rien avec ceci.")                                         \
    X(W_INVENTED_SHORT, "Invented.", "Inventado.", "Inventé.")                                        \
    X(W_FIRST, "The makers' instructions and local codes go before this sheet.",                      \
      "Las instrucciones de los fabricantes y las normas locales van antes que esta hoja.",           \
      "Les instructions des fabricants et les règles locales priment sur cette fiche.")               \
    X(W_SHOP, "shop", "taller", "atelier")                                                            \
    X(W_TECHNICIAN, "technician", "técnico", "technicien")                                            \
    X(W_DATE, "date", "fecha", "date")                                                                \
    X(W_TIMES, "began, ended", "inicio, fin", "début, fin")                                           \
    X(W_JOB_CODE, "this job", "este trabajo", "ce travail")                                           \
    X(W_SCOPE, "Which stations are in", "Qué puestos están incluidos",                                \
      "Quels postes sont concernés")                                                                  \
    X(W_STATION, "station", "puesto", "poste")                                                        \
    X(W_LABEL_AT, "where its label is", "dónde está su etiqueta", "où est son étiquette")             \
    X(W_LABEL_READS, "label reads", "la etiqueta dice", "l'étiquette dit")                            \
    X(W_IN, "in", "sí", "oui")                                                                        \
    X(W_OUT, "out", "no", "non")                                                                      \
    X(W_ASK, "ask", "consultar", "demander")                                                          \
    X(W_VARIANT, "variant", "variante", "variante")                                                   \
    X(W_CODES, "on the label", "en la etiqueta", "sur l'étiquette")                                   \
    X(W_BUILT, "in when built, both days included",                                                   \
      "incluido si se fabricó, ambos días incluidos",                                                 \
      "concerné si fabriqué, les deux jours compris")                                                 \
    X(W_MIXED_STATION,                                                                                \
      "Each station goes by its own label: one in and one out on the same unit is normal.",           \
      "Cada puesto va por su propia etiqueta: uno incluido y otro no en la misma unidad es "          \
      "normal.",                                                                                      \
      "Chaque poste suit sa propre étiquette : un concerné et l'autre non sur la même unité est " \
      "normal.")                                                                                      \
    X(W_MIXED_UNIT, "When one station is in, all stations of the unit are done.",                     \
      "Si un puesto está incluido, se hacen todos los de la unidad.",                                 \
      "Si un poste est concerné, tous ceux de l'unité sont faits.")                                   \
    X(W_KITS, "Which kit", "Qué juego", "Quel kit")                                                   \
    X(W_KIT, "kit", "juego", "kit")                                                                   \
    X(W_FOR, "for", "para", "pour")                                                                   \
    X(W_EVERY, "every station", "todos los puestos", "tous les postes")                               \
    X(W_HOLDS, "holds", "contiene", "contient")                                                       \
    X(W_USED_AT, "used at", "usado en", "utilisé à")                                                  \
    X(W_TO_CUT, "%s to cut, %s long", "%s para cortar, de %s", "%s à couper, de %s")                  \
    X(W_READY, "%s ready made, %s long, never cut", "%s acabada, de %s, nunca se corta",              \
      "%s finie, de %s, jamais coupée")                                                               \
    X(W_BRING, "What to bring", "Qué llevar", "À emporter")                                           \
    X(W_TOOLS, "tools", "herramientas", "outils")                                                     \
    X(W_PROTECTIVE, "to wear", "protección", "protection")                                            \
    X(W_STEPS, "Steps", "Pasos", "Étapes")                                                            \
    X(W_UNIT, "unit", "unidad", "unité")                                                              \
    X(W_WHY, "Why: %s", "Por qué: %s", "Pourquoi : %s")                                               \
    X(W_CHECK_FIRST, "look first", "mire primero", "regardez d'abord")                                \
    X(W_USE, "Use: %s", "Use: %s", "Avec : %s")                                                       \
    X(W_WEAR, "Wear: %s", "Lleve: %s", "Portez : %s")                                                 \
    X(W_PHOTO, "photo: %s", "foto: %s", "photo : %s")                                                 \
    X(W_READ, "reading: %s", "medida: %s", "relevé : %s")                                             \
    X(W_CONFIRM, "Go on only when this is done.", "Siga solo cuando esto esté hecho.",                \
      "Ne continuez qu'une fois ceci fait.")                                                          \
    X(W_GO_ON, "Go on only with:", "Siga solo con:", "Ne continuez qu'avec :")                        \
    X(W_ELSE, "If not: %s", "Si no: %s", "Sinon : %s")                                                \
    X(W_PICTURE, "Picture %s: %s", "Imagen %s: %s", "Image %s : %s")                                  \
    X(W_CUT, "CUT", "CORTE", "COUPURE")                                                               \
    X(W_CRUSH, "CRUSH", "APLASTAR", "ÉCRASER")                                                        \
    X(W_STORED, "STORED ENERGY", "ENERGÍA ACUMULADA", "ÉNERGIE STOCKÉE")                              \
    X(W_SUPPLY, "SUPPLY", "TENSIÓN", "COURANT")                                                       \
    X(W_PINCH, "PINCH", "ATRAPAR", "PINCER")                                                          \
    X(W_GAPS, "Readings at the opening", "Medidas en la abertura", "Relevés à l'ouverture")           \
    X(W_OUTSIDE, "seen from outside", "visto desde fuera", "vu de l'extérieur")                       \
    X(W_TRAVEL, "%s out", "a %s fuera", "sorti de %s")                                                \
    X(W_ROOM, "what moves", "lo que se mueve", "ce qui bouge")                                        \
    X(W_FIRST_READING, "first", "1.ª", "1er")                                                         \
    X(W_SECOND_READING, "again", "otra", "encore")                                                    \
    X(W_LAST_READING, "last", "última", "dernier")                                                    \
    X(W_READINGS, "Other readings", "Otras medidas", "Autres relevés")                                \
    X(W_POINT, "what is read", "qué se mide", "ce qui est relevé")                                    \
    X(W_LIMITS, "limits", "límites", "limites")                                                       \
    X(W_READING, "reading", "medida", "relevé")                                                       \
    X(W_STRIPS,                                                                                       \
      "Strips: ends are the limits, the tick is the nominal; mark your reading on it. Hatched: "      \
      "too near a limit to tell with this instrument.",                                               \
      "Tiras: los extremos son los límites, la raya el nominal; marque su medida. Rayado: "          \
      "demasiado cerca de un límite para saberlo con este instrumento.",                              \
      "Bandes : les bouts sont les limites, le trait le nominal ; marquez votre relevé. Hachuré "   \
      ": trop près d'une limite pour trancher avec cet instrument.")                                  \
    X(W_MOVE, "What can be moved", "Qué se puede mover", "Ce qui se déplace")                         \
    X(W_ADJUSTER, "where", "dónde", "où")                                                             \
    X(W_PLUS, "what +1 does", "qué hace +1", "ce que fait +1")                                        \
    X(W_ONE_STEP, "one step", "un paso", "un pas")                                                    \
    X(W_RANGE, "steps", "pasos", "pas")                                                               \
    X(W_TIME, "time once + a step", "tiempo una vez + por paso", "temps une fois + par pas")          \
    X(W_MOVED, "moved by", "movido", "déplacé de")                                                    \
    X(W_TIMING, "Racks in step", "Cremalleras en fase", "Crémaillères calées")                        \
    X(W_TIMING_LIMIT, "Ends of one station may differ by %s; a tooth is %s.",                         \
      "Los extremos de un puesto pueden diferir en %s; un diente son %s.",                            \
      "Les bouts d'un poste peuvent différer de %s ; une dent fait %s.")                              \
    X(W_RACK, "rack", "cremallera", "crémaillère")                                                    \
    X(W_END, "end reads", "el extremo mide", "le bout lit")                                           \
    X(W_AFTER_JUMP, "after a jump", "tras el salto", "après le saut")                                 \
    X(W_CUTS, "What was measured and cut", "Qué se midió y cortó", "Ce qui est mesuré et coupé")      \
    X(W_MEASURED, "measured", "medido", "mesuré")                                                     \
    X(W_TWICE, "second time", "segunda vez", "seconde fois")                                          \
    X(W_MARK, "mark", "marca", "trait")                                                               \
    X(W_FROM, "from the kept end", "desde el extremo que se conserva", "depuis le bout conservé")     \
    X(W_OFFCUT, "offcut", "sobrante", "chute")                                                        \
    X(W_NOT_CUT, "not cut", "no se corta", "non coupée")                                              \
    X(W_UPPER, "upper", "superior", "haut")                                                           \
    X(W_LOWER, "lower", "inferior", "bas")                                                            \
    X(W_EITHER, "either", "cualquiera", "l'un ou l'autre")                                            \
    X(W_PROOF, "Proof", "Pruebas", "Preuves")                                                         \
    X(W_PHOTOS, "photos", "fotos", "photos")                                                          \
    X(W_FINAL, "last readings that the maker wants", "últimas medidas que pide el fabricante",        \
      "derniers relevés que demande le fabricant")                                                    \
    X(W_KEEP, "Keep the old parts for %s days.", "Guarde las piezas viejas %s días.",                 \
      "Gardez les anciennes pièces %s jours.")                                                        \
    X(W_UNTIL, "The claim must arrive by %s.", "El reclamo debe llegar hasta el %s.",                 \
      "La demande doit arriver avant le %s inclus.")                                                  \
    X(W_SIGNED, "signature", "firma", "signature")                                                    \
    X(W_TEMPLATE, "Cut template, true scale", "Plantilla de corte, a escala real",                    \
      "Gabarit de coupe, grandeur réelle")                                                            \
    X(W_BAR,                                                                                          \
      "Measure this bar: 100 mm (below: 4 in). If it is not, print again at 100 %, without "          \
      "fitting to the page.",                                                                         \
      "Mida esta barra: 100 mm (abajo: 4 in). Si no, imprima de nuevo al 100 %, sin ajustar a "       \
      "la página.",                                                                                   \
      "Mesurez cette barre : 100 mm (dessous : 4 in). Sinon, réimprimez à 100 %, sans ajuster à "  \
      "la page.")                                                                                     \
    X(W_STRETCH, "Paper stretches. Mark by the tape; lay the template beside it to check.",           \
      "El papel se estira. Marque con la cinta; la plantilla solo comprueba.",                        \
      "Le papier s'étire. Tracez au mètre ; le gabarit sert à vérifier.")                             \
    X(W_GLUE, "glue sheet %s on here, cross on cross", "pegue aquí la hoja %s, cruz sobre cruz",      \
      "collez ici la feuille %s, croix sur croix")                                                    \
    X(W_SHEET_OF, "sheet %s of %s", "hoja %s de %s", "feuille %s sur %s")                             \
    X(W_KEPT_END, "kept end, %s", "extremo que se conserva, %s", "bout conservé, %s")                 \
    X(W_BLADE, "blade on this side", "hoja de este lado", "lame de ce côté")                          \
    X(W_BLADE_CENTRE, "blade on the line", "hoja sobre la línea", "lame sur le trait")                \
    X(W_CARDS, "Step cards", "Tarjetas de pasos", "Cartes d'étapes")                                  \
    X(W_CARDS_BACK, "Backs of the step cards", "Reversos de las tarjetas", "Dos des cartes")          \
    X(W_CRIB, "All on one page", "Todo en una página", "Tout sur une page")                           \
    X(W_GOES_ON, "%s (goes on)", "%s (sigue)", "%s (suite)")                                          \
    X(W_EACH, "at each: %s", "en cada uno: %s", "à chacun : %s")                                      \
    X(W_FELL_BACK, "[%s]: the language of a text that the bulletin does not have in this one.",       \
      "[%s]: el idioma de un texto que el boletín no tiene en este.",                                 \
      "[%s] : la langue d'un texte que le bulletin n'a pas dans celle-ci.")                           \
    X(W_ALL_INSIDE, "every reading inside its limits", "cada medida dentro de sus límites",           \
      "chaque relevé dans ses limites")                                                               \
    X(W_ASK_HURT, "What can hurt here, and what keeps it from that?",                                 \
      "¿Qué puede herir aquí y qué lo evita?",                                                        \
      "Qu'est-ce qui peut blesser ici, et qu'est-ce qui l'empêche ?")                                 \
    X(W_ASK_DO, "What is done?", "¿Qué se hace?", "Que fait-on ?")                                    \
    X(W_ASK_LIMIT, "What is read, and between which limits?", "¿Qué se mide y entre qué límites?",    \
      "Que relève-t-on, et entre quelles limites ?")                                                  \
    X(W_ASK_WHY, "Why?", "¿Por qué?", "Pourquoi ?")                                                   \
    X(W_ASK_PROOF, "What must be there before the next step?",                                        \
      "¿Qué debe haber antes del paso siguiente?", "Que faut-il avant l'étape suivante ?")            \
    X(W_ASK_TURN, "Say it, then turn the card.", "Dígalo y dé la vuelta a la tarjeta.",               \
      "Dites-le, puis retournez la carte.")                                                           \
    X(W_LABEL_MEANS, "A label that reads %s: built %s.",                                              \
      "Una etiqueta que dice %s: fabricado %s.", "Une étiquette qui dit %s : fabriqué %s.")           \
    X(W_VIN_BEGINS, "The VIN begins with %s.", "El VIN empieza por %s.",                              \
      "Le VIN commence par %s.")                                                                      \
    X(W_CUTTING, "The cut", "El corte", "La coupe")                                                   \
    X(W_STOCK, "stock", "de serie", "fournie")                                                        \
    X(W_KEPT, "kept end", "extremo que queda", "bout gardé")                                          \
    X(W_FINISHED, "may be cut to", "puede quedar en", "coupée entre")                                 \
    X(W_FIRST_TOOTH, "first tooth at", "primer diente a", "première dent à")                          \
    X(W_NEEDED, "needed", "necesaria", "voulue")                                                      \
    X(W_MARK_WASTE,                                                                                   \
      "The mark stands at the needed length, from the kept end; the kerf of %s lies "                 \
      "wholly in the offcut.",                                                                        \
      "La marca está a la longitud necesaria desde el extremo que queda; el corte de %s cae "        \
      "entero "                                                                                       \
      "en el sobrante.",                                                                              \
      "Le trait est à la longueur voulue depuis le bout gardé ; le trait de scie de %s tombe "      \
      "tout "                                                                                         \
      "entier dans la chute.")                                                                        \
    X(W_MARK_CENTRE,                                                                                  \
      "The mark stands at the needed length and half the kerf of %s, from the kept "                  \
      "end; the blade goes on the line.",                                                             \
      "La marca está a la longitud necesaria más la mitad del corte de %s, desde el extremo que "   \
      "queda; la hoja va sobre la línea.",                                                            \
      "Le trait est à la longueur voulue plus la moitié du trait de scie de %s, depuis le bout "    \
      "gardé ; la lame va sur le trait.")                                                             \
    X(W_OFFCUT_MOST, "Offcut longer than %s: look at the kit once more.",                             \
      "Sobrante de más de %s: mire el kit otra vez.",                                                 \
      "Chute de plus de %s : regardez encore le kit.")                                                \
    X(W_SLIVER_LEAST, "A part tooth thinner than %s is a sliver: see what Mendwright says.",          \
      "Un trozo de diente de menos de %s es una astilla: mire lo que dice Mendwright.",               \
      "Un bout de dent de moins de %s est un éclat : voyez ce que dit Mendwright.")                   \
    X(W_REMEASURE,                                                                                    \
      "Two racks of one station that differ by more than %s: measure again before "                   \
      "anything is cut.",                                                                             \
      "Dos cremalleras de un puesto que difieren en más de %s: mida otra vez antes de cortar "       \
      "nada.",                                                                                        \
      "Deux crémaillères d'un poste qui diffèrent de plus de %s : mesurez encore avant toute "     \
      "coupe.")                                                                                       \
    X(W_TEETH, "teeth", "dientes", "dents")                                                           \
    X(W_JUMP_MOST, "At most %s teeth, either way.",                                                   \
      "Como mucho %s dientes, hacia cualquier lado.",                                                 \
      "Au plus %s dents, dans un sens ou l'autre.")                                                   \
    X(W_CORNER_LIMITS, "Limits at each corner", "Límites en cada esquina",                            \
      "Limites à chaque coin")                                                                        \
    X(W_EFFECTS, "What one step more (+1) changes (%s)", "Qué cambia un paso más (+1) (%s)",          \
      "Ce que change un pas de plus (+1) (%s)")                                                       \
    X(W_HURTS, "What can hurt, at which step", "Qué puede herir, en qué paso",                        \
      "Ce qui peut blesser, à quelle étape")                                                          \
    X(W_CAUTIONS_THERE,                                                                               \
      "This page holds no cautions. Read those of the job sheet or of the card before "               \
      "each step.",                                                                                   \
      "Esta página no trae las advertencias. Lea las de la hoja de trabajo o de la tarjeta antes "   \
      "de "                                                                                           \
      "cada paso.",                                                                                   \
      "Cette page ne porte pas les mises en garde. Lisez celles de la fiche ou de la carte avant "    \
      "chaque étape.")                                                                                \
    X(W_CLAIM_DAYS, "It must arrive within %s days of the repair, and by %s.",                        \
      "Debe llegar en %s días desde la reparación, y hasta el %s.",                                   \
      "Elle doit arriver dans les %s jours après la réparation, et avant le %s inclus.")

enum words {
#define X(symbol, en, es, fr) symbol,
    WORDS_TABLE(X)
#undef X
        W_N
};

/* words_of: never NULL. words_language: "es", "es-MX", "fr" ...: the language of the first subtag; English when it is none of ours. */
const char *words_of(enum words word, enum words_language language);
enum words_language words_language(const char *tag);
const char *words_language_tag(enum words_language language);

#endif
