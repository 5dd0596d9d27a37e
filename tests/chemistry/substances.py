"""Substances that the tests share. pKa at 25 C, ionic strength 0.

NIST46: NIST Critically Selected Stability Constants of Metal Complexes (SRD 46), as carried in the USGS data
file minteq.v4.dat. RS70: Robinson & Stokes, Electrolyte Solutions (1970), via Kaye & Laby, section 3.9.7.
"""

from optiform.chemistry import Titratable

CITRIC = (3.128, 4.761, 6.396)  # NIST46
PHTHALIC = (2.950, 5.408)  # NIST46, RS70
PHOSPHORIC = (2.148, 7.198, 12.375)  # NIST46, RS70
CARBONIC = (6.352, 10.329)  # NIST46, of total CO2
BORIC = (9.236,)  # NIST46
ACETIC = (4.757,)  # NIST46
BENZOIC = (4.202,)  # NIST46
AMMONIUM = (9.244,)  # NIST46

citric_acid = Titratable(molar_mass=192.12, pka=CITRIC)
acetic_acid = Titratable(molar_mass=60.05, pka=ACETIC)
sodium_benzoate = Titratable(molar_mass=144.11, pka=BENZOIC, strong_charge=1.0)
ammonium_chloride = Titratable(molar_mass=53.49, pka=AMMONIUM, charge_acid_form=1.0, strong_charge=-1.0)
sodium_hydroxide = Titratable(molar_mass=40.00, strong_charge=1.0)
hydrogen_chloride = Titratable(molar_mass=36.46, strong_charge=-1.0)
sodium_chloride = Titratable(molar_mass=58.44, charge_acid_form=-1.0, strong_charge=1.0)
sodium_sulfate = Titratable(molar_mass=142.04, charge_acid_form=-2.0, strong_charge=2.0)
magnesium_sulfate = Titratable(
    molar_mass=120.37, charge_acid_form=-2.0, strong_charge=2.0, strong_ion_charge=2.0
)
sodium_lauryl_sulfate = Titratable(molar_mass=288.38, charge_acid_form=-1.0, strong_charge=1.0)
# Effective values of alkylamidopropyl betaine and an amine oxide in a wash: order of magnitude, from memory.
betaine = Titratable(molar_mass=342.5, pka=(1.9,), charge_acid_form=1.0, effective=True)
amine_oxide = Titratable(molar_mass=229.4, pka=(5.9,), charge_acid_form=1.0, effective=True)
# Carboxyl pKa about 3.5, effective, from memory; the sulfonate is a strong acid.
sulfosuccinate = Titratable(
    molar_mass=542.6, pka=(3.5,), charge_acid_form=-1.0, strong_charge=2.0, effective=True
)

everything = (
    citric_acid,
    acetic_acid,
    sodium_benzoate,
    ammonium_chloride,
    sodium_hydroxide,
    hydrogen_chloride,
    sodium_chloride,
    sodium_sulfate,
    magnesium_sulfate,
    sodium_lauryl_sulfate,
    betaine,
    amine_oxide,
    sulfosuccinate,
)
