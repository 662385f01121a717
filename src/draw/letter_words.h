/* letter_words: the words of letters, by line in English, Spanish and French. Inside src/draw/letter*. */
#ifndef DRAW_LETTER_WORDS_H
#define DRAW_LETTER_WORDS_H

/* symbol, English, Spanish, French. %s: what is put in. */
#define LETTER_TABLE(X)                                                                              \
    X(L_TITLE, "Claim %s", "Reclamo %s", "Demande %s")                                               \
    X(L_UNIT, "unit", "unidad", "unité")                                                             \
    X(L_BULLETIN, "bulletin", "boletín", "bulletin")                                                 \
    X(L_SHOP, "shop", "taller", "atelier")                                                           \
    X(L_TECHNICIAN, "technician", "técnico", "technicien")                                           \
    X(L_FINISHED, "work finished", "trabajo terminado", "travail terminé")                           \
    X(L_TAKEN, "taken in", "recibido", "reçu")                                                       \
    X(L_DATE, "written on", "escrito el", "écrit le")                                                \
    X(L_UNTIL, "must arrive by", "debe llegar hasta", "au plus tard le")                             \
    X(L_IS_PAY, "%s are to be paid.", "Se pagarán %s.", "%s seront payés.")                          \
    X(L_IS_PAID, "%s are paid.", "%s están pagados.", "%s sont payés.")                              \
    X(L_IS_ASK, "Something is missing.", "Falta algo.", "Il manque quelque chose.")                  \
    X(L_IS_HOLD, "A person is looking at it.", "Una persona lo está revisando.",                     \
      "Une personne l'examine.")                                                                     \
    X(L_IS_REFUSE, "It is not paid.", "No se paga.", "Elle n'est pas payée.")                        \
    X(L_IS_UNRULED, "It has arrived and has not been looked at yet.",                                \
      "Ha llegado y aún no se ha revisado.", "Elle est arrivée et n'a pas encore été examinée.")     \
    X(L_NEXT_PAY, "There is nothing to send.", "No hay nada que enviar.",                            \
      "Il n'y a rien à envoyer.")                                                                    \
    X(L_NEXT_ASK,                                                                                    \
      "Put right what is listed below and send the job again from the phone. The claim is then "     \
      "looked at anew; what was in order stays in order.",                                           \
      "Corrija lo que se indica abajo y envíe el trabajo de nuevo desde el teléfono. Entonces se " \
      "revisa otra vez; lo que estaba bien sigue bien.",                                             \
      "Corrigez ce qui est indiqué plus bas et renvoyez le travail depuis le téléphone. La "      \
      "demande "                                                                                     \
      "est alors réexaminée ; ce qui était en ordre le reste.")                                      \
    X(L_NEXT_HOLD,                                                                                   \
      "You will be told what it comes to. Send only what is listed below, if anything.",             \
      "Se le dirá el resultado. Envíe solo lo que se indica abajo, si se indica algo.",              \
      "Le résultat vous sera communiqué. N'envoyez que ce qui est indiqué plus bas, s'il y a "    \
      "lieu.")                                                                                       \
    X(L_NEXT_REFUSE,                                                                                 \
      "The reason stands below. If it is wrong, answer with what shows that it is.",                 \
      "La razón está abajo. Si no es correcta, responda con lo que lo demuestre.",                   \
      "La raison est indiquée plus bas. Si elle est fausse, répondez avec ce qui le montre.")        \
    X(L_NEXT_UNRULED, "There is nothing to send now.", "Ahora no hay nada que enviar.",              \
      "Il n'y a rien à envoyer maintenant.")                                                         \
    X(L_WORD, "A person decided this: %s", "Lo decidió una persona: %s",                             \
      "Une personne en a décidé : %s")                                                               \
    X(L_SEND, "What to send", "Qué enviar", "Ce qu'il faut envoyer")                                 \
    X(L_WHY_NOT, "Why it is not paid", "Por qué no se paga", "Pourquoi ce n'est pas payé")           \
    X(L_MONEY, "What it comes to", "A cuánto asciende", "Le montant")                                \
    X(L_STANDS, "as it stands", "según lo decidido", "selon la décision")                            \
    X(L_SO_FAR, "paid so far", "pagado hasta ahora", "payé jusqu'ici")                               \
    X(L_CURE, "How: %s", "Cómo: %s", "Comment : %s")                                                 \
    X(L_UNIT_ALL, "whole unit", "unidad entera", "unité entière")                                    \
    X(L_CAUTION_WORD, "CRUSH", "APLASTAR", "ÉCRASER")                                                \
    X(L_CAUTION,                                                                                     \
      "Before you go back to the unit for a reading or a photo: support the room and cut off its "   \
      "supply as the bulletin's steps say. Nobody goes under or into the opening of a room that "    \
      "is "                                                                                          \
      "not supported. The makers' instructions and local codes go before this letter; what needs "   \
      "a "                                                                                           \
      "licence is left to those who hold it.",                                                       \
      "Antes de volver a la unidad por una medida o una foto: apoye la sala y corte la tensión "    \
      "como "                                                                                        \
      "dicen los pasos del boletín. Nadie entra ni pasa bajo la abertura de una sala sin apoyo. "   \
      "Las "                                                                                         \
      "instrucciones de los fabricantes y las normas locales van antes que esta carta; lo que "      \
      "exige "                                                                                       \
      "licencia se deja a quien la tiene.",                                                          \
      "Avant de retourner à l'unité pour un relevé ou une photo : soutenez la pièce mobile et "  \
      "coupez "                                                                                      \
      "le courant comme le disent les étapes du bulletin. Personne ne passe sous une pièce "       \
      "mobile non "                                                                                  \
      "soutenue ni dans son ouverture. Les instructions des fabricants et les règles locales "      \
      "priment "                                                                                     \
      "sur cette lettre ; ce qui exige une habilitation est laissé à ceux qui l'ont.")               \
    X(L_RECORD, "", "Lo que sigue al signo \xC2\xBB está en el idioma en que se registró.",          \
      "Ce qui suit le signe \xC2\xBB est dans la langue où il a été enregistré.")                    \
    X(L_INVENTED, "Invented, for practice: send and pay nothing by it.",                             \
      "Inventado, para practicar: no envíe ni pague nada con esto.",                                 \
      "Inventé, pour s'exercer : n'envoyez et ne payez rien avec ceci.")                             \
    X(L_LABOUR, "Labour", "Mano de obra", "Main-d'œuvre")                                            \
    X(L_KIT, "Kit", "Juego", "Kit")                                                                  \
    X(L_PARTS, "Parts", "Piezas", "Pièces")                                                          \
    X(L_TRAVEL, "Travel", "Desplazamiento", "Déplacement")                                           \
    X(L_CONSUMABLES, "Consumables", "Consumibles", "Consommables")

/* How a rule that asks is cured, for a letter that is not in the record's language: the rule's name, Spanish, French. */
#define LETTER_CURES(X)                                                                            \
    X("vin-check", "Envíe el VIN copiado de la placa, con una foto de ella.",                      \
      "Envoyez le VIN relevé sur la plaque, avec une photo de celle-ci.")                          \
    X("label-missing", "Lea la etiqueta del puesto y envíe el trabajo con ella.",                  \
      "Lisez l'étiquette du poste et renvoyez le travail avec elle.")                              \
    X("scope-unknown", "Lea la etiqueta otra vez, tal como está impresa, con una foto nítida.",    \
      "Relisez l'étiquette telle qu'elle est imprimée, avec une photo nette.")                     \
    X("station-unknown", "Envíe el trabajo con los puestos que nombra el boletín.",                \
      "Renvoyez le travail avec les postes que nomme le bulletin.")                                \
    X("revision-old", "Abra la revisión actual del boletín, haga lo que cambió y envíe de nuevo.", \
      "Ouvrez la révision actuelle du bulletin, faites ce qui a changé et renvoyez.")              \
    X("photo-missing", "Tome esta foto en la unidad terminada y envíe el trabajo con ella.",       \
      "Prenez cette photo sur l'unité terminée et renvoyez le travail avec elle.")                 \
    X("photo-broken", "Tome la foto de nuevo; este archivo no se puede abrir.",                    \
      "Reprenez la photo ; ce fichier ne s'ouvre pas.")                                            \
    X("photo-dark", "Tome la foto de nuevo con más luz.",                                          \
      "Reprenez la photo avec plus de lumière.")                                                   \
    X("photo-bright", "Tome la foto de nuevo con menos luz y sin reflejos.",                       \
      "Reprenez la photo avec moins de lumière et sans reflets.")                                  \
    X("photo-blurred", "Tome la foto de nuevo, con el teléfono quieto y apoyado.",                 \
      "Reprenez la photo, le téléphone immobile et appuyé.")                                       \
    X("photo-time",                                                                                \
      "Envíe una foto tomada durante este trabajo, o diga por qué no coincide la hora.",           \
      "Envoyez une photo prise pendant ce travail, ou dites pourquoi l'heure diffère.")            \
    X("photo-twice", "Envíe una foto distinta para cada prueba.",                                  \
      "Envoyez une photo différente pour chaque preuve.")                                          \
    X("reading-missing",                                                                           \
      "Mida este punto en la unidad terminada y envíe el trabajo con la medida.",                  \
      "Relevez ce point sur l'unité terminée et renvoyez le travail avec le relevé.")              \
    X("reading-outside", "Ajuste según el boletín, mida de nuevo y envíe las medidas nuevas.",     \
      "Réglez selon le bulletin, relevez de nouveau et envoyez les nouveaux relevés.")             \
    X("reading-uncertain",                                                                         \
      "Mida varias veces o con un instrumento más fino, o aléjelo del límite.",                    \
      "Relevez plusieurs fois ou avec un instrument plus fin, ou éloignez-le de la limite.")       \
    X("reading-early", "Mida de nuevo en la unidad terminada y envíe esa medida.",                 \
      "Relevez de nouveau sur l'unité terminée et envoyez ce relevé.")                             \
    X("kit-missing", "Diga qué juego se montó y envíe el trabajo con él.",                         \
      "Dites quel kit a été monté et renvoyez le travail avec lui.")                               \
    X("rack-missing", "Envíe el trabajo con la longitud medida de cada cremallera.",               \
      "Renvoyez le travail avec la longueur mesurée de chaque crémaillère.")                       \
    X("racks-disagree", "Mida de nuevo las cremalleras que no coinciden y envíe ambas medidas.",   \
      "Remesurez les crémaillères qui diffèrent et envoyez les deux mesures.")                     \
    X("cut-missing", "Envíe el trabajo con la marca del corte, como dice el boletín.",             \
      "Renvoyez le travail avec le trait de coupe, comme le dit le bulletin.")                     \
    X("hold-skipped", "Haga el paso que falta, confírmelo y envíe el trabajo de nuevo.",           \
      "Faites l'étape qui manque, confirmez-la et renvoyez le travail.")                           \
    X("not-finished", "Termine el trabajo en el teléfono y envíelo de nuevo.",                     \
      "Terminez le travail sur le téléphone et renvoyez-le.")                                      \
    X("work-after", "Mida y fotografíe tras el último trabajo y envíe de nuevo.",                  \
      "Relevez et photographiez après le dernier travail et renvoyez.")                            \
    X("events-odd", "Envíe el trabajo de nuevo desde el teléfono donde se hizo.",                  \
      "Renvoyez le travail depuis le téléphone où il a été fait.")                                 \
    X("in-future", "Ponga en hora el reloj del teléfono y envíe el trabajo de nuevo.",             \
      "Réglez l'horloge du téléphone et renvoyez le travail.")                                     \
    X("unsigned", "Envíe el trabajo firmado con la clave de su taller.",                           \
      "Renvoyez le travail signé avec la clé de votre atelier.")                                   \
    X("bag", "Envíe el trabajo de nuevo desde el teléfono; faltaba algo en el paquete.",           \
      "Renvoyez le travail depuis le téléphone ; il manquait quelque chose dans le paquet.")

enum letter_word {
#define X(symbol, en, es, fr) symbol,
    LETTER_TABLE(X)
#undef X
        L_N
};

const char *letter_word(enum letter_word word, enum words_language language);
/* In the record's own language (English) the finding's own cure; else by its rule, and the finding's own where there is none. */
const char *letter_cure(const struct letter_item *item, enum words_language language);

#endif
