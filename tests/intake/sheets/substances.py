"""
Real substances for invented sheets: CAS and EC numbers are common facts with check digits.

The classes are what suppliers commonly state (from memory); they serve to be read, not to classify.
Each class is (key, statement): the key is the short name that the reader has to arrive at.
"""

from __future__ import annotations

from dataclasses import dataclass, field

SKIN, EYE, DAM = ("Skin Irrit 2", "H315"), ("Eye Irrit 2", "H319"), ("Eye Dam 1", "H318")
S1, S1A, S1B = ("Skin Sens 1", "H317"), ("Skin Sens 1A", "H317"), ("Skin Sens 1B", "H317")
ORAL4 = ("Acute 4 oral", "H302")
ASP, FL3 = ("Asp 1", "H304"), ("Flam Liq 3", "H226")
A1, C1 = ("Aq Acute 1", "H400"), ("Chronic 1", "H410")
C2, C3, C4 = ("Chronic 2", "H411"), ("Chronic 3", "H412"), ("Chronic 4", "H413")


@dataclass(frozen=True)
class Fact:
    """A substance; ``specific`` are limits in percent, ``ate`` oral mg/kg."""

    name: str
    cas: str
    ec: str
    classes: tuple[tuple[str, str], ...] = ()
    m_acute: int | None = None
    m_chronic: int | None = None
    specific: dict[str, str] = field(default_factory=dict)
    ate_oral: int | None = None


FACTS = (
    Fact("Linalool", "78-70-6", "201-134-4", (SKIN, EYE, S1B)),
    Fact("d-Limonene", "5989-27-5", "227-813-5", (FL3, SKIN, S1B, ASP, A1, C3), m_acute=1),
    Fact("Citral", "5392-40-5", "226-394-6", (SKIN, EYE, S1)),
    Fact("Geraniol", "106-24-1", "203-377-1", (SKIN, DAM, S1)),
    Fact("Eugenol", "97-53-0", "202-589-1", (EYE, S1B)),
    Fact("Coumarin", "91-64-5", "202-086-7", (ORAL4, S1B, ("STOT RE 2", "H373")), ate_oral=500),
    Fact("Benzyl benzoate", "120-51-4", "204-402-9", (ORAL4, A1, C2), m_acute=1),
    Fact("Benzyl alcohol", "100-51-6", "202-859-9", (ORAL4, EYE, S1B), ate_oral=1200),
    Fact("Benzyl salicylate", "118-58-1", "204-262-9", (S1B, C3)),
    Fact(
        "Hexyl salicylate",
        "6259-76-3",
        "228-408-6",
        (("Repr 2", "H361d"), S1, A1, C1),
        m_acute=1,
        m_chronic=1,
    ),
    Fact(
        "2-(Phenylmethylene)octanal (hexyl cinnamal)",
        "101-86-0",
        "202-983-3",
        (S1B, A1, C2),
        m_acute=1,
    ),
    Fact("Citronellol", "106-22-9", "203-375-0", (SKIN, EYE, S1B)),
    Fact("Hydroxycitronellal", "107-75-5", "203-518-7", (EYE, S1B)),
    Fact("Linalyl acetate", "115-95-7", "204-116-4", (SKIN, S1B)),
    Fact(
        "alpha-Pinene",
        "80-56-8",
        "201-291-9",
        (FL3, ORAL4, SKIN, S1B, ASP, A1, C1),
        m_acute=1,
        m_chronic=1,
    ),
    Fact("beta-Pinene", "127-91-3", "204-872-5", (FL3, SKIN, S1B, ASP, A1, C1), 1, 1),
    Fact(
        "1,3,4,6,7,8-Hexahydro-4,6,6,7,8,8-hexamethylcyclopenta-gamma-2-benzopyran",
        "1222-05-5",
        "214-946-9",
        (A1, C1),
        m_acute=1,
        m_chronic=1,
    ),
    Fact(
        "1-(1,2,3,4,5,6,7,8-Octahydro-2,3,8,8-tetramethyl-2-naphthyl)ethan-1-one",
        "54464-57-2",
        "259-174-3",
        (SKIN, S1B, C1),
        m_chronic=1,
    ),
    Fact("Isoeugenol", "97-54-1", "202-590-7", (ORAL4, SKIN, EYE, S1A), specific={S1A[0]: "0.01"}),
    Fact(
        "Cinnamaldehyde",
        "104-55-2",
        "203-213-9",
        (("Acute 4 dermal", "H312"), SKIN, EYE, S1A),
        specific={S1A[0]: "0.01"},
    ),
    Fact("Benzaldehyde", "100-52-7", "202-860-4", (ORAL4,), ate_oral=1430),
    Fact("Vanillin", "121-33-5", "204-465-2", (EYE,)),
    Fact("Ethyl vanillin", "121-32-4", "204-464-7", (EYE,)),
    Fact("p-Cymene", "99-87-6", "202-796-7", (FL3, ASP, C2)),
    Fact("Camphor", "76-22-2", "200-945-0", (ORAL4, ("STOT SE 2", "H371"))),
    Fact("Cineole", "470-82-6", "207-431-5", (FL3, S1B)),
    Fact("Tetrahydrolinalool", "78-69-3", "201-133-9", (SKIN, EYE)),
    Fact("Amyl cinnamal", "122-40-7", "204-541-5", (S1B, C2)),
    Fact("2,4-Dimethylcyclohex-3-ene-1-carbaldehyde", "68039-49-6", "268-264-1", (SKIN, S1B, C3)),
    Fact("Piperonal", "120-57-0", "204-409-7", (S1B,)),
    Fact(
        "Methyl salicylate",
        "119-36-8",
        "204-317-7",
        (ORAL4, S1B, ("Repr 2", "H361d"), C3),
        ate_oral=890,
    ),
    Fact(
        "1,1,2,3,3-Pentamethyl-1,2,3,5,6,7-hexahydroinden-4-one",
        "33704-61-9",
        "251-649-3",
        (SKIN, EYE, S1B, C2),
    ),
    Fact("beta-Caryophyllene", "87-44-5", "201-746-1", (S1B, ASP, C4)),
    Fact("Allyl 3-cyclohexylpropionate", "2705-87-5", "220-292-5", (ORAL4, S1B, A1, C1), 10, 1),
    Fact("Phenethyl alcohol", "60-12-8", "200-456-2", (ORAL4, EYE)),
    Fact("2-tert-Butylcyclohexyl acetate", "88-41-5", "201-828-7", (C2,)),
    Fact("4-tert-Butylcyclohexyl acetate", "32210-23-4", "250-954-9", (S1B,)),
    Fact("Benzyl acetate", "140-11-4", "205-399-7", (C3,)),
    Fact("Dipropylene glycol", "25265-71-8", "246-770-3", ()),
    Fact("Acetone", "67-64-1", "200-662-2", (("Flam Liq 2", "H225"), EYE, ("STOT SE 3", "H336"))),
    Fact("Musk ketone", "81-14-1", "201-328-9", (("Carc 2", "H351"), A1, C1), 1, 1),
)
