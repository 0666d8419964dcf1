//! What people write above columns, in several languages, and in cells for the words of a closed list.
//!
//! Common usage of data sheets and price lists in English, German, French, Italian, Spanish and Dutch; from
//! memory, no source. Every entry is folded as [`super::words::tokens`] does; `|` stands between wordings.

/// Heads of `tapes.csv`.
pub(super) const TAPES: &[(&str, &str)] = &[
    (
        "tape",
        "tape|tape no|tape number|type|typ|type no|typ nr|product|produkt|produit|prodotto|producto|product code|\
        product no|item|item no|item number|article|article no|article number|art nr|art no|artikel|artikel nr|\
        artikelnummer|artikelnr|reference|ref|reference produit|codice|codice articolo|codigo|articulo|\
        referencia|part no|part number|grade|bandtyp|band|klebeband|ruban|nastro|cinta|code|sku|tape type",
    ),
    (
        "name",
        "name|description|designation|bezeichnung|benennung|denomination|descrizione|denominazione|descripcion|\
        omschrijving|product name|produktname|nom|nome|nombre|titel|beschreibung",
    ),
    ("status", "status|state|zustand|lieferstatus|etat|statut|stato|estado|availability|verfugbarkeit"),
    ("revision", "revision|rev|rev no|issue|ausgabe|stand|indice|version|revisione|edition"),
    (
        "backing",
        "backing|backing material|carrier|carrier material|base material|film|substrate|trager|\
        tragermaterial|tragerwerkstoff|folie|support|materiau support|materiau|supporto|materiale supporto|soporte|\
        material soporte|drager|facestock|base film|trager material|material del soporte|material",
    ),
    (
        "backing_thickness",
        "backing thickness|carrier thickness|film thickness|base thickness|thickness of backing|\
        tragerdicke|dicke trager|dicke des tragers|foliendicke|foliendikke|epaisseur support|epaisseur du support|\
        spessore supporto|spessore del supporto|espesor soporte|espesor del soporte|thickness backing",
    ),
    (
        "adhesive",
        "adhesive|adhesive type|adhesive system|adhesive material|glue|mass|kleber|klebstoff|klebmasse|\
        klebstoffsystem|klebertyp|adhesif|type adhesif|masse adhesive|colle|adesivo|tipo di adesivo|tipo adesivo|\
        adhesivo|tipo de adhesivo|lijm|kleefstof",
    ),
    (
        "adhesive_thickness",
        "adhesive thickness|thickness of adhesive|glue thickness|adhesive coat|coat thickness|\
        klebstoffdicke|kleberdicke|dicke kleber|dicke klebmasse|klebmassendicke|epaisseur adhesif|\
        epaisseur de l adhesif|spessore adesivo|spessore dell adesivo|espesor adhesivo|espesor del adhesivo|\
        thickness adhesive",
    ),
    (
        "coated_sides",
        "coated sides|sides coated|sides|adhesive sides|klebende seiten|beschichtete seiten|\
        faces adhesives|lati adesivi|caras adhesivas",
    ),
    ("adhesive_cure", "adhesive cure|cure|curing|hartung|thermosetting|aushartung|reticulation|reticolazione|curado"),
    (
        "cure_temperature",
        "cure temperature|curing temperature|hartungstemperatur|bake temperature|\
        temperature de reticulation|temperatura di reticolazione|temperatura de curado",
    ),
    (
        "cure_time",
        "cure time|curing time|hartungszeit|hartezeit|bake time|temps de reticulation|tempo di reticolazione|\
        tiempo de curado",
    ),
    (
        "total_thickness",
        "total thickness|thickness|overall thickness|tape thickness|thickness total|caliper|gauge|dicke|\
        gesamtdicke|dicke gesamt|banddicke|starke|gesamtstarke|epaisseur|epaisseur totale|spessore|spessore totale|\
        espesor|espesor total|dikte|totale dikte|thick",
    ),
    ("colour", "colour|color|farbe|couleur|colore|kleur|colours|colors"),
    (
        "breakdown",
        "breakdown|breakdown voltage|dielectric breakdown|dielectric breakdown voltage|dielectric strength|\
        electric strength|voltage breakdown|durchschlagspannung|durchschlagsspannung|durchschlag|\
        durchschlagfestigkeit|durchschlagsfestigkeit|spannungsfestigkeit|tension de claquage|claquage|\
        tension claquage|rigidite dielectrique|tensione di perforazione|tensione perforazione|\
        rigidita dielettrica|tension de ruptura|tension de perforacion|rigidez dielectrica|doorslagspanning|bdv|\
        dielectric|ruptura dielectrica",
    ),
    ("breakdown_method", "breakdown method|breakdown standard|norm durchschlag|breakdown test method"),
    (
        "tensile",
        "tensile|tensile strength|tensile force|breaking strength|breaking load|strength at break|\
        zugfestigkeit|reisskraft|reissfestigkeit|bruchkraft|zugkraft|hochstzugkraft|bruchlast|\
        resistance a la traction|resistance traction|resistance a la rupture|charge de rupture|\
        resistenza alla trazione|resistenza a trazione|resistenza trazione|carico di rottura|\
        resistencia a la traccion|resistencia traccion|carga de rotura|treksterkte|tensile at break|traction",
    ),
    ("tensile_method", "tensile method|tensile standard|norm zugfestigkeit|tensile test method"),
    (
        "elongation",
        "elongation|elong|elongation at break|ultimate elongation|break elongation|stretch|dehnung|bruchdehnung|\
        reissdehnung|dehnung bei bruch|allongement|allongement a la rupture|allongement rupture|allungamento|\
        allungamento a rottura|allungamento alla rottura|alargamiento|elongacion|alargamiento a la rotura|\
        alargamiento de rotura|elongacion a la rotura|rek|rek bij breuk",
    ),
    (
        "adhesion",
        "adhesion|adhesion to steel|peel adhesion|peel strength|peel|adhesion steel|adhesion strength|\
        bond strength|klebkraft|klebkraft auf stahl|klebkraft stahl|schalkraft|haftkraft|adhesion sur acier|\
        adherence|adherence sur acier|adherence acier|pouvoir adhesif|pouvoir adhesif sur acier|adesione|\
        adesione su acciaio|adesione acciaio|forza di adesione|forza adesiva|adhesion al acero|adherencia|\
        adhesion acero|fuerza adhesiva|kleefkracht|hechting",
    ),
    ("adhesion_surface", "adhesion surface|test surface|prufuntergrund|untergrund"),
    ("adhesion_angle", "adhesion angle|peel angle|abzugswinkel|schalwinkel"),
    ("adhesion_dwell", "adhesion dwell|dwell|dwell time|verweilzeit|andruckzeit|verweildauer"),
    ("adhesion_method", "adhesion method|adhesion standard|norm klebkraft|adhesion test method|peel method"),
    (
        "adhesion_to_backing",
        "adhesion to backing|adhesion backing|adhesion to own backing|peel to backing|\
        klebkraft auf trager|klebkraft auf eigenen rucken|klebkraft auf bandrucken|klebkraft auf rucken|\
        klebkraft auf eigenem trager|adherence sur dos|adherence sur support|pouvoir adhesif sur dos|\
        adesione su dorso|adesione al supporto|adesione su supporto|adhesion al soporte|adhesion al dorso",
    ),
    (
        "shear",
        "shear|shear strength|static shear|holding power|scherfestigkeit|scherkraft|cisaillement|\
        resistance au cisaillement|taglio|resistenza al taglio|cizalladura",
    ),
    ("shear_temperature", "shear temperature|schertemperatur"),
    ("shear_method", "shear method|shear standard"),
    (
        "unwind",
        "unwind|unwind force|unwinding|unwinding force|abrollkraft|force de deroulement|deroulement|\
        forza di svolgimento|fuerza de desenrollado",
    ),
    (
        "edge_tear",
        "edge tear|edge tear resistance|tear|tear resistance|weiterreissfestigkeit|einreissfestigkeit|\
        resistance a la dechirure",
    ),
    (
        "puncture",
        "puncture|puncture resistance|durchstossfestigkeit|durchstossfestigkeit|perforation|\
        resistance a la perforation",
    ),
    (
        "temperature_index",
        "temperature index|temp index|thermal index|ti|temperaturindex|indice de temperature|\
        indice di temperatura|indice de temperatura|rti",
    ),
    ("halving_interval", "halving interval|hic|halbwertsintervall|halbierungsintervall"),
    ("index_basis", "index basis"),
    ("systems", "systems|insulation systems|insulation system|isoliersystem|isoliersysteme|systeme d isolation"),
    (
        "flame",
        "flame|flame retardant|flame test|flammability|flammwidrig|flammhemmend|brandverhalten|entflammbarkeit|\
        ignifuge|autoestinguente|ignifugo",
    ),
    (
        "electrolytic_corrosion",
        "electrolytic corrosion|electrolytic corrosion factor|corrosion factor|\
        elektrolytische korrosion|elektrolytischer korrosionsfaktor|korrosionsfaktor|corrosion electrolytique|\
        facteur de corrosion|corrosione elettrolitica|corrosion electrolitica",
    ),
    ("halogen", "halogen|halogens|halogen content|halogengehalt|halogene|halogenes|alogeni|halogenos"),
    ("sulphur", "sulphur|sulfur|sulphur content|sulfur content|schwefel|schwefelgehalt|soufre|zolfo|azufre"),
    ("silicone", "silicone free|silicone|silikonfrei|silikon"),
    (
        "tracking_index",
        "tracking index|cti|comparative tracking index|kriechstromfestigkeit|cti wert|\
        resistance au cheminement",
    ),
    ("shrinkage", "shrinkage|schrumpf|schrumpfung|retrait|ritiro|retraccion|krimp"),
    ("shrinkage_temperature", "shrinkage temperature|schrumpftemperatur"),
    ("cold_bend", "cold bend|cold bending|low temperature bend|kaltebiegen|kaltbiegen"),
    ("outgassing", "outgassing|total mass loss|tml|ausgasung|degazage|degassamento"),
    ("open_porosity", "open porosity|porosity|porositat|porosite"),
    (
        "shelf_life",
        "shelf life|storage life|haltbarkeit|lagerfahigkeit|lagerzeit|lagerdauer|duree de stockage|\
        duree de conservation|durata di conservazione|vida util|conservazione|houdbaarheid",
    ),
    ("storage", "storage|storage conditions|lagerung|lagerbedingungen|stockage|conditions de stockage|stoccaggio"),
    (
        "roll_length",
        "roll length|length|length per roll|lange|rollenlange|longueur|longueur rouleau|lunghezza|\
        lunghezza rotolo|longitud|longitud rollo|rollengte",
    ),
    (
        "minimum_width",
        "minimum width|min width|smallest width|mindestbreite|kleinste breite|largeur minimale|\
        larghezza minima|ancho minimo",
    ),
    ("relative_cost", "relative cost|cost index|preisindex|kostenfaktor|relative price"),
    ("source", "source|quelle|fonte|fuente"),
    ("basis", "basis"),
    (
        "note",
        "note|notes|remark|remarks|comment|comments|bemerkung|bemerkungen|anmerkung|anmerkungen|hinweis|remarque|\
        remarques|commentaire|nota|osservazioni|observaciones|notas|opmerking|kommentar",
    ),
];

/// Heads of `facts.csv`.
pub(super) const FACTS: &[(&str, &str)] = &[
    (
        "subject",
        "subject|material|substance|medium|liquid|werkstoff|stoff|substanz|flussigkeit|materiau|liquide|\
        materiale|sostanza|sustancia|liquido|tape",
    ),
    ("density", "density|dichte|densite|masse volumique|densita|densidad|specific gravity"),
    ("viscosity", "viscosity|dynamic viscosity|viskositat|dynamische viskositat|viscosite|viscosita|viscosidad"),
    (
        "permittivity",
        "permittivity|relative permittivity|dielectric constant|permittivitat|dielektrizitatszahl|\
        dielektrizitatskonstante|permittivite|constante dielectrique|costante dielettrica|constante dielectrica",
    ),
    (
        "flash_point",
        "flash point|flashpoint|flammpunkt|point eclair|point d eclair|punto di infiammabilita|\
        punto de inflamacion",
    ),
    ("boiling_point", "boiling point|siedepunkt|point d ebullition|punto di ebollizione|punto de ebullicion"),
    (
        "surface_tension",
        "surface tension|oberflachenspannung|tension superficielle|tensione superficiale|\
        tension superficial",
    ),
    (
        "glass_transition",
        "glass transition|glass transition temperature|tg|glasubergang|glasubergangstemperatur|\
        transition vitreuse",
    ),
    ("molar_volume", "molar volume|molvolumen|molares volumen|volume molaire"),
    (
        "volume_resistivity",
        "volume resistivity|resistivity|spezifischer widerstand|durchgangswiderstand|\
        resistivite|resistivita|resistividad",
    ),
    ("modulus", "modulus|young s modulus|elastic modulus|e modul|elastizitatsmodul|module|modulo"),
    (
        "moisture_absorption",
        "moisture absorption|water absorption|wasseraufnahme|feuchteaufnahme|absorption d eau|\
        assorbimento d acqua|absorcion de agua",
    ),
    ("pot_life", "pot life|topfzeit|duree de vie en pot"),
    ("gel_time", "gel time|gelzeit|temps de gel"),
    ("loss_factor", "loss factor|dissipation factor|tan delta|verlustfaktor|facteur de pertes"),
    ("interfacial_tension", "interfacial tension|grenzflachenspannung|tension interfaciale"),
    ("acidity", "acidity|acid number|neutralisation number|saurezahl|indice d acide"),
];

/// Heads of `pairs.csv`.
pub(super) const PAIRS: &[(&str, &str)] = &[
    (
        "material",
        "material|tape|band|klebeband|werkstoff|type|typ|article|artikel|ruban|nastro|cinta|specimen|prufling|\
        backing|adhesive",
    ),
    (
        "medium",
        "medium|liquid|in|fluid|flussigkeit|prufflussigkeit|prufmedium|milieu|liquide|mezzo|medio|solvent|\
        losemittel|test liquid|test medium",
    ),
    ("duration", "duration|time|exposure time|dauer|zeit|lagerdauer|lagerungsdauer|duree|durata|duracion"),
    ("humidity", "humidity|relative humidity|feuchte|luftfeuchte|relative feuchte|humidite|umidita|humedad|rh"),
    ("atmosphere", "atmosphere|atmosphare"),
    ("effect", "effect|wirkung"),
    ("swelling", "swelling|quellung|gonflement|rigonfiamento|hinchamiento"),
    (
        "adhesion_kept",
        "adhesion kept|adhesion retained|retained adhesion|klebkraft restwert|restklebkraft|\
        adhesion retention",
    ),
    ("shear_kept", "shear kept|shear retained|retained shear|shear retention"),
    ("bond_kept", "bond kept|bond retained|retained bond|bond retention"),
    (
        "tensile_kept",
        "tensile kept|tensile retained|retained tensile|tensile retention|restzugfestigkeit|\
        retained tensile strength",
    ),
    ("breakdown_kept", "breakdown kept|breakdown retained|retained breakdown|breakdown retention"),
    ("saturation_uptake", "saturation uptake|uptake|mass uptake|aufnahme|massenzunahme|weight gain"),
    ("extractable", "extractable|extractables|extract|extrakt"),
    ("loss_factor", "loss factor|dissipation factor|tan delta|verlustfaktor"),
    ("interfacial_tension", "interfacial tension|grenzflachenspannung"),
    ("acidity", "acidity|acid number|neutralisation number|saurezahl"),
];

/// Heads that facts and pairs share.
pub(super) const BOTH: &[(&str, &str)] = &[
    ("property", "property|quantity|eigenschaft|kenngrosse|propriete|proprieta|propiedad"),
    ("value", "value|median|mean|wert|messwert|mittelwert|valeur|valore|valor|result|ergebnis"),
    ("low", "low|min|minimum|lower|lowest|kleinster wert|untergrenze"),
    ("high", "high|max|maximum|upper|highest|grosster wert|obergrenze"),
    ("unit", "unit|units|einheit|unite|unita|unidad"),
    ("temperature", "temperature|temp|test temperature|temperatur|pruftemperatur|temperatura|t"),
    ("condition", "condition|conditions|bedingung|prufbedingung"),
    ("basis", "basis"),
    ("source", "source|quelle|report|bericht|fonte|fuente"),
    ("note", "note|notes|remark|remarks|bemerkung|anmerkung|comment|remarque|nota"),
];

/// Words in a head that say nothing about which column it is.
pub(super) const ASIDE: &[&str] = &[
    "typical",
    "typ",
    "value",
    "values",
    "wert",
    "werte",
    "nominal",
    "nom",
    "nenn",
    "average",
    "avg",
    "mean",
    "mittel",
    "mittelwert",
    "measured",
    "per",
    "pro",
    "at",
    "bei",
    "a",
    "de",
    "du",
    "des",
    "of",
    "the",
    "der",
    "die",
    "das",
    "to",
    "auf",
    "on",
    "sur",
    "su",
    "en",
    "in",
    "al",
    "la",
    "le",
    "ac",
    "rms",
    "steel",
    "stahl",
    "acier",
    "acciaio",
    "acero",
    "iec",
    "astm",
    "din",
    "iso",
    "approx",
    "ca",
    "unaged",
    "new",
    "initial",
    "min",
    "max",
    "nach",
    "according",
    "acc",
    "selon",
    "secondo",
    "segun",
    "deg",
    "degree",
    "grad",
    "c",
    "rt",
    "d",
    "l",
    "valeur",
    "typique",
    "tipico",
    "tipica",
    "nr",
    "no",
    "test",
    "standard",
    "norm",
    "norme",
    "norma",
    "method",
];

/// Words in cells: the column, the word that is read, how people write it.
pub(super) const CELLS: &[(&str, &str, &str)] = &[
    (
        "status",
        "active",
        "active|aktiv|current|lieferbar|available|verfugbar|actif|disponible|attivo|disponibile|activo|\
        in production|serie|yes|ok|standard|laufend",
    ),
    (
        "status",
        "discontinued",
        "discontinued|obsolete|ausgelaufen|abgekundigt|auslauf|eingestellt|arrete|abandonne|\
        fuori produzione|descatalogado|inactive|inaktiv|phased out|end of life|eol|no",
    ),
    ("flame", "yes", "yes|ja|oui|si|pass|passes|passed|bestanden|y|j|x|ul 510 fr|flame retardant|fr|true|v 0|erfullt"),
    ("flame", "no", "no|nein|non|fail|fails|failed|nicht bestanden|n|false"),
    ("silicone", "none", "none|no|nein|non|free|silicone free|silikonfrei|sans|senza|sin|keine|kein"),
    ("silicone", "present", "present|yes|ja|oui|si|contains|enthalten|vorhanden"),
    ("adhesive_cure", "none", "none|no|nein|non|keine|non thermosetting|not thermosetting|nicht hartend"),
    (
        "adhesive_cure",
        "thermosetting",
        "thermosetting|thermoset|yes|ja|oui|si|hartend|duroplastisch|\
        thermodurcissable|termoindurente|termoendurecible|warmehartend",
    ),
    ("colour", "yellow", "gelb|jaune|giallo|amarillo|geel"),
    ("colour", "white", "weiss|blanc|bianco|blanco|wit"),
    ("colour", "black", "schwarz|noir|nero|negro|zwart"),
    ("colour", "red", "rot|rouge|rosso|rojo|rood"),
    ("colour", "green", "grun|vert|verde|groen"),
    ("colour", "blue", "blau|bleu|blu|azul|blauw"),
    ("colour", "brown", "braun|brun|marron|marrone|bruin"),
    ("colour", "amber", "bernstein|ambre|ambra|ambar"),
    ("colour", "transparent", "farblos|clear|klar|trasparente|transparente|transparant|incolore"),
    ("basis", "measured", "measured|gemessen|mesure|misurato|medido"),
    ("basis", "published", "published|data sheet|datenblatt|veroffentlicht|publie|fiche technique|scheda tecnica"),
    ("adhesion_surface", "steel", "stahl|acier|acciaio|acero|staal|stainless steel|edelstahl"),
    ("index_basis", "tape", "band|ruban|nastro|cinta"),
];
