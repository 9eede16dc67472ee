//! Closed formulas: one energy, three metals, and the secondary term as an integral over depths.

use super::cases::{grid, weights};
use beadchem::matrix::{Label, ReferenceBead, Theory};
use beadchem::numeric::Side;
use beadchem::substance::Element;
use beadchem::xray::{AtomicTables, CsvTables, Geometry, Glass, Instrument, Panels, Setting, Source};

/// The formulas are exact; what is left is rounding.
const EXACT: f64 = 1e-9;
/// Mass coefficients of the three metals are printed to four decimals.
const PRINTED: f64 = 5e-5;
/// The quadrature of the test.
const QUADRATURE: f64 = 1e-6;

fn sine(degrees: f64) -> f64 {
    degrees.to_radians().sin()
}

/// Excited by one energy, without enhancement: `a_ij = M_j/(F M_flux)` and `alpha_ij = (M_j - M_i)/(F M_flux + M_i)` with
/// `M = mu(E0)/sin psi1 + mu(E_i)/sin psi2`, whatever the composition.
#[test]
fn coefficients_at_one_energy() {
    let (tables, weights, ratio) = (grid(), weights(), 5.0);
    let instrument = Instrument::new(Source::monochromatic(20.0).unwrap(), Geometry::new(63.0, 40.0).unwrap());
    let m = |name: &str| {
        let glass = Glass::of_masses(&[(name, 1.0)], &weights).unwrap();
        glass.attenuation(&tables, 20.0).unwrap() / sine(63.0)
            + glass.attenuation(&tables, 1.7398).unwrap() / sine(40.0)
    };
    // Na lines do not reach the edge of silicon, so nothing enhances it
    let components = ["SiO2", "Na2O", "MgO", "Al2O3"];
    let theory =
        Theory::new(&tables, &weights, &instrument, &[("Li2B4O7", 1.0)], &components, &[("Si Ka", "SiO2")]).unwrap();
    let label = Label::new("one energy", "1", "a test").unwrap();
    let bead = ReferenceBead::new(ratio, [0.5, 0.1, 0.1, 0.2]).unwrap();
    let set = theory.coefficients(label, &bead).unwrap();
    for (place, name) in components.into_iter().enumerate() {
        let expected = m(name) / (ratio * m("Li2B4O7"));
        assert!((set.row(0)[place] / expected - 1.0).abs() < EXACT, "{name}: {} {expected}", set.row(0)[place]);
        if name != "SiO2" {
            let expected = (m(name) - m("SiO2")) / (ratio * m("Li2B4O7") + m("SiO2"));
            let found = theory.binary("Si Ka", name, 0.3, ratio).unwrap();
            assert!((found - expected).abs() < EXACT, "{name}: {found} {expected}");
        }
        let found = theory.binary_loss_free("Si Ka", name, 0.4, ratio).unwrap();
        // the trace of analyte, 1e-7, stands in both beads
        assert!((found - m(name) / (ratio * m("Li2B4O7"))).abs() < 1e-6, "{name}: {found}");
    }
}

/// The figures of the prototype for the same, with xraylib's own numbers.
#[test]
fn coefficients_at_one_energy_in_figures() {
    let (tables, weights) = (grid(), weights());
    for (name, expected, binary) in
        [("Al2O3", 0.571246, 0.318076), ("CaO", 0.301807, 0.092051), ("Fe2O3", 0.521803, 0.276599)]
    {
        let m = |name: &str| {
            let glass = Glass::of_masses(&[(name, 1.0)], &weights).unwrap();
            glass.attenuation(&tables, 20.0).unwrap() / sine(63.0)
                + glass.attenuation(&tables, 1.7398).unwrap() / sine(40.0)
        };
        assert!((m(name) / (5.0 * m("Li2B4O7")) - expected).abs() < 3e-4, "{name}");
        let found = (m(name) - m("SiO2")) / (5.0 * m("Li2B4O7") + m("SiO2"));
        assert!((found - binary).abs() < 3e-4, "{name}");
    }
}

/// Chromium, iron and nickel under 20 keV at 45 degrees, computed by hand from printed coefficients (xraylib 4.3.0).
#[test]
fn three_metals() {
    let mass = "element,energy_kev,total_cm2_per_g,photo_cm2_per_g\n\
        Cr,5.4116,86.8327,80\nCr,6.3995,492.2438,490.4839\nCr,7.4723,317.4378,315.9179\nCr,20,20.3799,19.8052\n\
        Fe,5.4116,112.5564,100\nFe,6.3995,71.0601,70\nFe,7.4723,361.6039,359.8746\nFe,20,25.6830,25.0498\n\
        Ni,5.4116,144.4080,140\nNi,6.3995,91.2751,90\nNi,7.4723,59.6754,58\nNi,20,32.2020,31.4908\n";
    let atoms = "element,kind,name,shell,energy_kev,jump_ratio,fluorescence_yield,f12,f13,f23,share\n\
        Cr,edge,K,,5.9892,8.045,0.2885,,,,\nCr,line,Ka,K,5.4116,,,,,,0.88601\n\
        Fe,edge,K,,7.112,7.893,0.3546,,,,\nFe,line,Ka,K,6.3995,,,,,,0.88156\n\
        Ni,edge,K,,8.3328,7.707,0.4212,,,,\nNi,line,Ka,K,7.4723,,,,,,0.88058\n";
    let tables = CsvTables::read(mass, atoms, "xraylib 4.3.0 as printed").unwrap();
    let instrument = Instrument::new(Source::monochromatic(20.0).unwrap(), Geometry::new(45.0, 45.0).unwrap());
    let lines = ["Cr Ka", "Fe Ka", "Ni Ka"];
    let setting = Setting::new(&tables, &weights(), &instrument, &["Cr", "Fe", "Ni"], &lines).unwrap();
    let of = |masses: &[(&str, f64)]| setting.intensities(&Glass::of_elements(masses).unwrap()).unwrap();
    let alloy = of(&[("Cr", 0.2), ("Fe", 0.7), ("Ni", 0.1)]);
    for (line, ratio) in [("Cr Ka", 0.157815), ("Fe Ka", 0.370881), ("Ni Ka", 0.0264128)] {
        let pure = of(&[(&line[..2], 1.0)]).line(line).unwrap();
        let found = alloy.line(line).unwrap().primary / pure.primary;
        assert!((found / ratio - 1.0).abs() < PRINTED, "{line}: {found}");
        assert_eq!(pure.secondary, 0.0);
    }
    // influence of one metal on the line of another: mu*_j/mu*_i - 1
    for (line, other, expected) in [
        ("Cr Ka", "Fe", 0.289394),
        ("Cr Ka", "Ni", 0.647287),
        ("Fe Ka", "Cr", 4.298816),
        ("Fe Ka", "Ni", 0.276340),
        ("Ni Ka", "Cr", 2.676830),
        ("Ni Ka", "Fe", 3.215255),
    ] {
        let own = &line[..2];
        let of = |x: f64| of(&[(own, 1.0 - x), (other, x)]).line(line).unwrap().primary;
        let found = (0.7 / (of(0.3) / of(0.0)) - 1.0) / 0.3;
        assert!((found / expected - 1.0).abs() < PRINTED, "{line} {other}: {found}");
    }
    // secondary over primary with the reach of each pair as an integral over depths gave it
    let pair = |share: f64, omega: f64, fraction: f64, jump: f64, tau_j: f64, tau_i: f64, tau_ij: f64, reach: f64| {
        0.5 * share * omega * fraction * (1.0 - 1.0 / jump) * tau_j / tau_i * tau_ij * reach
    };
    let reach = |m_s: f64, m_i: f64, m_j: f64| (1.0 + m_s / m_j).ln() / m_s + (1.0 + m_i / m_j).ln() / m_i;
    let mix = |values: [f64; 3]| 0.2 * values[0] + 0.7 * values[1] + 0.1 * values[2];
    let sine = sine(45.0);
    let source = mix([20.3799, 25.6830, 32.2020]) / sine;
    let (cr, fe, ni) =
        (mix([86.8327, 112.5564, 144.4080]), mix([492.2438, 71.0601, 91.2751]), mix([317.4378, 361.6039, 59.6754]));
    let on_iron = pair(0.1, 0.4212, 0.88058, 7.707, 31.4908, 25.0498, 359.8746, reach(source, fe / sine, ni));
    let on_chromium = pair(0.7, 0.3546, 0.88156, 7.893, 25.0498, 19.8052, 490.4839, reach(source, cr / sine, fe))
        + pair(0.1, 0.4212, 0.88058, 7.707, 31.4908, 19.8052, 315.9179, reach(source, cr / sine, ni));
    for (line, expected) in [("Fe Ka", on_iron), ("Cr Ka", on_chromium), ("Ni Ka", 0.0)] {
        let found = alloy.line(line).unwrap();
        assert!((found.secondary / found.primary - expected).abs() <= PRINTED * expected, "{line}");
    }
}

/// E1(z) by its series and its continued fraction.
fn e1(z: f64) -> f64 {
    const EULER: f64 = 0.577_215_664_901_532_9;
    if z < 1.5 {
        let mut term = 1.0;
        let series: f64 = (1..40)
            .map(|k| {
                term *= -z / f64::from(k);
                -term / f64::from(k)
            })
            .sum();
        return -EULER - z.ln() + series;
    }
    let fraction = (1..200).rev().fold(0.0, |below, k| {
        let k = f64::from(k);
        k / (1.0 + k / (z + below))
    });
    (-z).exp() / (z + fraction)
}

/// `int int exp(-a x - b y) E1(c |x - y|)/2 dx dy` over all depths x and y, by Gauss and Legendre in both: the midpoint of the two
/// depths first, then their distance, in the fourth power of a place so that the logarithm at zero does no harm.
fn over_depths(a: f64, b: f64, c: f64) -> f64 {
    let places: Vec<(f64, f64)> = Panels::new(1.0 / 12.0, 12).unwrap().from_kev(1.0).unwrap().nodes(&[], 2.0);
    let inner = |near: f64, far: f64| -> f64 {
        // the nearer of the two lies at depth s, the other deeper by u
        let depth: f64 = places
            .iter()
            .map(|&(place, width)| {
                let t = place - 1.0;
                let s = t / (1.0 - t) / (near + far);
                (-(near + far) * s).exp() * width / ((1.0 - t) * (1.0 - t)) / (near + far)
            })
            .sum();
        let distance: f64 = places
            .iter()
            .map(|&(place, width)| {
                let t = place - 1.0;
                let (power, slope) = (t.powi(4), 4.0 * t.powi(3));
                let scale = 1.0 / (far + c);
                let u = power / (1.0 - power) * scale;
                let jacobian = slope * scale / ((1.0 - power) * (1.0 - power));
                0.5 * e1(c * u) * (-far * u).exp() * jacobian * width
            })
            .sum();
        depth * distance
    };
    inner(b, a) + inner(a, b)
}

#[test]
fn secondary_fluorescence_as_an_integral_over_depths() {
    let (tables, weights) = (grid(), weights());
    let parts = [("Li2B4O7", 5.0), ("Fe2O3", 0.4), ("NiO", 0.4), ("SiO2", 0.2)];
    let glass = Glass::of_masses(&parts, &weights).unwrap();
    let instrument = Instrument::new(Source::monochromatic(20.0).unwrap(), Geometry::new(63.0, 40.0).unwrap());
    let names = parts.map(|part| part.0);
    let setting = Setting::new(&tables, &weights, &instrument, &names, &["Fe Ka", "Si Ka"]).unwrap();
    let found = setting.intensities(&glass).unwrap();
    let element = |symbol: &str| Element::from_symbol(symbol).unwrap();
    let edges = |symbol: &str| tables.edges(element(symbol)).unwrap()[0];
    let knocked = |symbol: &str, energy: f64| {
        let edge = edges(symbol);
        let above = if energy > edge.energy_kev { 1.0 - 1.0 / edge.jump_ratio } else { 0.0 };
        tables.photo(element(symbol), energy, Side::Below).unwrap() * above
    };
    let mu = |energy: f64| glass.attenuation(&tables, energy).unwrap();
    for (line, symbol, exciters) in [("Fe Ka", "Fe", vec!["Ni"]), ("Si Ka", "Si", vec!["Fe", "Ni"])] {
        let own = tables.lines(element(symbol)).unwrap()[0].clone();
        let (a, b) = (mu(20.0) / sine(63.0), mu(own.energy_kev) / sine(40.0));
        let unit =
            |symbol: &str, share: f64| glass.mass_fraction(symbol).unwrap() * edges(symbol).fluorescence_yield * share;
        let mut expected = 0.0;
        for exciter in exciters {
            for other in tables.lines(element(exciter)).unwrap() {
                if other.name.starts_with('K') {
                    expected += unit(symbol, own.share) / sine(63.0)
                        * knocked(symbol, other.energy_kev)
                        * unit(exciter, other.share)
                        * knocked(exciter, 20.0)
                        * over_depths(a, b, mu(other.energy_kev));
                }
            }
        }
        let found = found.line(line).unwrap().secondary;
        assert!((found / expected - 1.0).abs() < QUADRATURE, "{line}: {found} {expected}");
    }
}
