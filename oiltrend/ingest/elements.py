"""What laboratories call the measurands: symbols, names and spellings in the trade's languages.

English, German, French, Italian, Spanish, Portuguese, Dutch, Polish, Swedish and Czech.
Accents, case, dots and underscores do not matter (see :func:`oiltrend.ingest.headings.fold`),
so each name stands once as it is written. A name that means two things is left out: it is
asked.
"""

from __future__ import annotations

__all__ = ["ELEMENT_NAMES", "MEASURAND_NAMES"]

ELEMENT_NAMES: dict[str, tuple[str, ...]] = {
    "Fe": ("iron", "Eisen", "fer", "ferro", "hierro", "ijzer", "żelazo", "järn", "železo"),
    "Cu": ("copper", "Kupfer", "cuivre", "rame", "cobre", "koper", "miedź", "koppar", "měď"),
    "Pb": ("lead", "Blei", "plomb", "piombo", "plomo", "chumbo", "lood", "ołów", "bly", "olovo"),
    "Sn": ("tin", "Zinn", "étain", "stagno", "estaño", "estanho", "cyna", "tenn", "cín"),
    "Al": ("aluminium", "aluminum", "alluminio", "aluminio", "alumínio", "glin", "hliník"),
    "Cr": ("chromium", "Chrom", "chrome", "cromo", "crômio", "chroom", "krom"),
    "Ni": ("nickel", "nichel", "nichelio", "níquel", "nikkel", "nikiel", "nikl"),
    "Ag": ("silver", "Silber", "argent", "argento", "plata", "prata", "zilver", "srebro",
           "stříbro"),
    "Ti": ("titanium", "Titan", "titane", "titanio", "titânio", "titaan", "tytan"),
    "V": ("vanadium", "vanadio", "vanádio", "wanad", "vanad"),
    "Mn": ("manganese", "Mangan", "manganèse", "manganeso", "manganês", "mangaan"),
    "Sb": ("antimony", "Antimon", "antimoine", "antimonio", "antimônio", "antimoon", "antymon"),
    "Bi": ("bismuth", "Bismut", "Wismut", "bismuto", "bizmut", "vismut"),
    "In": ("indium", "indio"),
    "Si": ("silicon", "Silizium", "Silicium", "silicio", "silício", "krzem", "kisel", "křemík"),
    "Na": ("sodium", "Natrium", "sodio", "sódio", "sód", "sodík"),
    "K": ("potassium", "Kalium", "potassio", "potasio", "potássio", "potas", "draslík"),
    "B": ("boron", "Bor", "bore", "boro", "boor", "bór"),
    "Mg": ("magnesium", "magnésium", "magnesio", "magnésio", "magnez", "hořčík"),
    "Ca": ("calcium", "Kalzium", "calcio", "cálcio", "wapń", "kalcium", "vápník"),
    "Ba": ("barium", "baryum", "bario", "bário"),
    "P": ("phosphorus", "phosphorous", "Phosphor", "phosphore", "fosforo", "fósforo", "fosfor"),
    "Zn": ("zinc", "Zink", "zinco", "cynk", "zinek"),
    "Mo": ("molybdenum", "Molybdän", "molybdène", "molibdeno", "molibdênio", "molybdeen",
           "molibden", "molybden"),
    "S": ("sulfur", "sulphur", "Schwefel", "soufre", "zolfo", "azufre", "enxofre", "zwavel",
          "siarka", "svavel", "síra"),
}

# "@viscosity" still needs its temperature.
MEASURAND_NAMES: dict[str, tuple[str, ...]] = {
    "@viscosity": ("visc", "viscosity", "kinematic viscosity", "kin viscosity", "kin visc", "kv",
                   "vis", "Viskosität", "kin Viskosität", "kinematische Viskosität", "viscosité",
                   "viscosité cinématique", "viscosità", "viscosità cinematica", "viscosidad",
                   "viscosidad cinemática", "viscosidade", "viscosidade cinemática",
                   "viscositeit", "kinematische viscositeit", "lepkość", "lepkość kinematyczna",
                   "viskositet", "kinematisk viskositet", "viskozita", "kinematická viskozita"),
    "HTHS": ("high temperature high shear", "high temperature high shear viscosity",
             "hths viscosity", "hths Viskosität", "hths viscosité", "hths viscosità",
             "hths viscosidad"),
    "base_number": ("tbn", "bn", "total base number", "base no", "alkalinity", "Basenzahl",
                    "Gesamtbasenzahl", "indice de base", "indice de basicité", "numero di base",
                    "basicità totale", "número básico", "número de base", "índice de basicidad",
                    "índice de basicidade", "basegetal", "totaal basegetal",
                    "liczba zasadowa", "bastal", "totalbastal", "číslo alkality",
                    "číslo celkové alkality"),
    "acid_number": ("tan", "an", "total acid number", "acid no", "acidity", "neutralisation number",
                    "neutralization number", "Säurezahl", "Gesamtsäurezahl",
                    "Neutralisationszahl", "indice d'acide", "indice d'acidité",
                    "numero di acidità", "acidità totale", "número ácido", "número de acidez",
                    "índice de acidez", "zuurgetal", "liczba kwasowa", "syratal", "číslo kyselosti",
                    "číslo celkové kyselosti"),
    "fuel_pct": ("fuel", "fuel dilution", "fuel content", "Kraftstoff", "Kraftstoffgehalt",
                 "Kraftstoffeintrag", "Kraftstoffverdünnung", "carburant", "dilution carburant",
                 "dilution", "carburante", "diluizione carburante", "combustible",
                 "dilución combustible", "combustível", "diluição combustível", "brandstof",
                 "brandstofverdunning", "paliwo", "bränsle", "bränsleutspädning", "palivo"),
    "water_pct": ("water", "h2o", "water content", "Wasser", "Wassergehalt", "eau",
                  "teneur en eau", "acqua", "contenuto acqua", "agua", "contenido de agua",
                  "água", "teor de água", "watergehalte", "woda", "zawartość wody", "vatten",
                  "vattenhalt", "voda", "obsah vody"),
    "soot_pct": ("soot", "soot content", "soot index", "Ruß", "Rußgehalt", "suie", "suies",
                 "fuliggine", "hollín", "fuligem", "roet", "roetgehalte", "sadza", "sot",
                 "sothalt", "saze", "obsah sazí"),
    "glycol_pct": ("glycol", "coolant", "antifreeze", "Glykol", "Glykolgehalt", "Kühlmittel",
                   "liquide de refroidissement", "glicole", "glicol", "refrigerante",
                   "koelvloeistof", "glikol", "kylvätska", "chladivo"),
    "oxidation": ("oxid", "Oxidation", "oxydation", "ossidazione", "oxidación", "oxidação",
                  "oxidatie", "utlenianie", "oxidace"),
    "nitration": ("nitr", "Nitration", "nitratation", "nitrazione", "nitración", "nitração",
                  "nitratie", "nitracja", "nitrering", "nitrace"),
    "sulfation": ("sulf", "sulphation", "Sulfation", "solfatazione", "sulfatación", "sulfatação",
                  "sulfatatie", "sulfatering", "sulfatace"),
}
