/* money: how many decimals a currency has. From memory of the ISO 4217 list of active codes; funds
 * and metals left out. */
#include "bulletin/schema.h"

#include <string.h>

static const char no_digits[] = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX VND VUV XAF XOF XPF ";
static const char three_digits[] = "BHD IQD JOD KWD LYD OMR TND ";
static const char two_digits[] =
    "AED AFN ALL AMD ANG AOA ARS AUD AWG AZN BAM BBD BDT BGN BMD BND BOB BRL BSD BTN BWP BYN BZD "
    "CAD CDF CHF CNY COP CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD "
    "GTQ GYD HKD HNL HTG HUF IDR ILS INR IRR JMD KES KGS KHR KPW KYD KZT LAK LBP LKR LRD LSL MAD "
    "MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MYR MZN NAD NGN NIO NOK NPR NZD PAB PEN PGK PHP "
    "PKR PLN QAR RON RSD RUB SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS "
    "TMT TOP TRY TTD TWD TZS UAH USD UYU UZS VES WST XCD YER ZAR ZMW ";

int schema_currency_digits(const char *code)
{
    if (strlen(code) != 3 || strchr(code, ' ') != NULL)
        return -1;
    if (strstr(two_digits, code) != NULL)
        return 2;
    if (strstr(no_digits, code) != NULL)
        return 0;
    return strstr(three_digits, code) != NULL ? 3 : -1;
}
