# %% [markdown]
# # From the balance to the reported number
#
# One bead of an invented marble, step by step. The numbers are invented; the arithmetic is not.

# %%
import beadchem as bc

# %% [markdown]
# ## The flux lot and the weighings
#
# `bc.value(x, u=...)` is a value with its standard uncertainty. Weighings on one balance share what its calibration
# adds; a cause with one name is one cause.


# %%
def weighed(mass_g: float) -> bc.Value:
    return bc.value(mass_g, u=0.0001, shared={"balance": 0.00005})


lot = bc.FluxLot(
    "F-118",
    {"Li2B4O7": 50, "LiBO2": 50},
    programme="1050 C, 18 min",
    loss_percent=bc.value(0.38, u=0.03),
    blanks_percent={"SiO2": bc.value(0.010, u=0.002)},
)
marble = bc.Composition(
    {"CaMg(CO3)2": bc.value(90.5, u=0.3), "CaCO3": bc.value(5.2, u=0.3), "SiO2": bc.value(2.9, u=0.1)}, basis="dried"
)
charge = bc.Charge(
    bc.Sample(weighed(0.8011), basis="dried", composition=marble),
    lot.weigh(weighed(8.0009)),
    [bc.Addition.release_agent("LiBr", bc.Amount.tablets(1, bc.value(0.03, u=0.0003)), retained=bc.value(0.5, u=0.1)).late(3)],
)
charge

# %% [markdown]
# ## Fusion: bead mass, three ratios, the books

# %%
melt = charge.fuse()
melt

# %%
melt.ledger()

# %% [markdown]
# The weighed bead is held against the prediction. It never changes a result by itself.

# %%
melt.check_bead_mass(weighed(8.4262), k=4)

# %% [markdown]
# ## From the glass back to the sample

# %%
glass = bc.Composition(
    {"CaO": bc.value(2.894, u=0.004), "MgO": bc.value(1.881, u=0.003), "SiO2": bc.value(0.285, u=0.002), "MnO": bc.Below(0.004)},
    basis="bead",
)
sample = melt.undilute(glass)
sample

# %%
ordered = sample.on("as received", bc.BasisLinks(moisture_percent=bc.value(0.90, u=0.03)), form="elements")
ordered

# %%
budget = ordered.budget("Mg")
budget

# %%
print(f"u now {budget.u:.2e}; with half the uncertainty of the reading {budget.if_halved('MgO in the glass'):.2e}")

# %% [markdown]
# First order held against Monte Carlo, from a fixed seed:

# %%
drawn = ordered.monte_carlo(draws=50_000, seed=7)
print(f"first order u {ordered.u('Mg'):.4f} %, Monte Carlo u {drawn.u('Mg'):.4f} %")
assert abs(drawn.u("Mg") / ordered.u("Mg") - 1) < 4 / (2 * 50_000) ** 0.5  # four sampling sigmas

# %% [markdown]
# ## The furnace: a signed loss, species by species
#
# A magnetite gains what its ferrous iron takes up; behind the gain hides what really left.

# %%
iron = bc.ElementForms.split("Fe2O3", bc.value(97.94, u=0.10), {"FeO": bc.value(26.0, u=0.10)}, rest="Fe2O3")
others = {"SiO2": bc.value(1.8, u=0.02), "H2O": bc.value(0.25, u=0.02), "S": "absent", "F": "absent", "Mn": "absent"}
magnetite = iron.added_to(bc.Composition(others, basis="dried"))
furnace = bc.Ignition(1000, atmosphere="air")
predicted = furnace.predict(magnetite)
predicted

# %%
gain = bc.LossOnIgnition(bc.value(-2.63, u=0.02), temperature_c=1000, atmosphere="air")
print(predicted.explain(gain, k=3))
print(furnace.to_fusion(gain, magnetite, bc.Fate()).loss_percent)

# %% [markdown]
# ## Closure: what is counted, and what the total cannot see
#
# The marble again, once as a bead of dried and once as a bead of ignited powder. The second closes whatever the loss is.

# %%
loss = bc.LossOnIgnition(bc.value(45.4, u=0.05), temperature_c=1000)
order = bc.ClosureOrder(loss_on_ignition=loss)
rules = bc.Rules("guide", "1", total_percent=(98.5, 101.0, 4.0), bead_mass_k=4.0)
closure = sample.closure(order)
closure

# %%
print(rules.judge_total(closure))
ignited = bc.Charge(bc.Sample(weighed(0.8001), basis="ignited at 1000 C"), lot.weigh(weighed(8.0012)))
of_ignited = ignited.fuse(loss_on_fusion_percent=bc.exact(0.0)).undilute(
    bc.Composition({"CaO": bc.value(5.10, u=0.006), "MgO": bc.value(3.31, u=0.004), "SiO2": bc.value(0.50, u=0.002)}, basis="bead")
)
blind = of_ignited.on("dried", bc.BasisLinks(loss_on_ignition=loss)).closure(order)
print(rules.judge_total(blind))

# %% [markdown]
# ## The report: rounded by rule, at the end only

# %%
form = bc.ReportForm("guide", decimals=2, rule="half to even", negatives="censored", k=3.0)
sample.report(form, total=order)

# %% [markdown]
# ## From intensities
#
# A method holds coefficients, calibration and overlaps; here the template, a document with a remark behind every field. The
# counts below are invented. An assay needs no loss and no bead mass: the content follows the fused flux per gram of sample.

# %%
method = bc.Method.template()
dolomite = bc.Charge(bc.Sample(weighed(0.8004), basis="dried"), lot.weigh(weighed(8.0021))).fuse(
    loss_on_fusion_percent=bc.value(46.2, u=0.1)
)
counts = {"Ca Ka": bc.value(13_540, u=14), "Mg Ka": bc.value(1_812, u=5), "Si Ka": bc.value(352, u=2)}
assay = method.assay(dolomite, counts, bead="B-501")
assay

# %%
assay.budget("MgO")

# %%
assay.explain("MgO")

# %%
for line in assay.provenance.lines:
    print(line)

# %% [markdown]
# Another set of coefficients, another flux ratio: refused, with the reason.

# %%
thin = bc.Charge(bc.Sample(weighed(0.8004), basis="dried"), lot.weigh(weighed(4.0021))).fuse(
    loss_on_fusion_percent=bc.value(46.2, u=0.1)
)
try:
    method.assay(thin, counts, bead="B-502")
except bc.BeadchemError as refused:
    print(f"{refused.code}: {refused}")

# %% [markdown]
# ## Refusals say what to do

# %%
for wrong in [
    lambda: bc.Sample(500.3, basis="dried"),
    lambda: bc.undilute(2.894, melt.flux_ratio),
    lambda: bc.Formula("CuS04"),
    lambda: sample.on("ignited at 1000 C"),
    lambda: bc.ReportForm("guide", decimals=2, rule="half up", negatives="zero"),
    lambda: bc.Addition.oxidant("NaNO3", 1.2),
]:
    try:
        wrong()
    except bc.BeadchemError as refused:
        print(f"{refused.code}: {refused}")
