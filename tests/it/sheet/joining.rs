//! Two tables by bead id.

use beadchem::code::Code;
use beadchem::sheet::{DecimalMark, Doubled, Joined, Layout, join};
use proptest::prelude::*;

use super::{config, read};

fn joined(left: &[&str], right: &[&str]) -> Joined {
    let sheet =
        |ids: &[&str]| read(&format!("n,Bead\n1,{}\n", ids.join("\n1,")), &Layout::new("Bead", DecimalMark::Point));
    join(&sheet(left), &sheet(right))
}

#[test]
fn equal_ids_are_paired_and_others_reported() {
    let found = joined(&["B-1", "B-2", "", "B 07", "b-9"], &["B-07", "B-2", "B-1", "B-9", "X"]);
    assert_eq!(found.pairs, [(0, 2), (1, 1)]);
    assert_eq!((found.only_left, found.only_right), (vec![2, 3, 4], vec![0, 3, 4]));
    let texts: Vec<&str> = found.findings.iter().map(|finding| finding.text.as_str()).collect();
    assert_eq!(
        texts,
        [
            "Row 4 of the left table has no bead id and is not paired.",
            "Bead B 07 (row 5) is only in the left table. B 07 is not B-07: mend the export.",
            "Bead b-9 (row 6) is only in the left table. b-9 is not B-9: mend the export.",
            "Bead B-07 (row 2) is only in the right table. B-07 is not B 07: mend the export.",
            "Bead B-9 (row 5) is only in the right table. B-9 is not b-9: mend the export.",
            "Bead X (row 6) is only in the right table. It is not paired.",
        ]
    );
    assert!(found.findings.iter().all(|finding| finding.code == Code::BeadUnmatched));
}

#[test]
fn doubled_ids_are_not_paired() {
    let found = joined(&["B-1", "B-1", "B-2"], &["B-1", "B-3", "B-3"]);
    assert!(found.pairs.is_empty() && found.only_right.is_empty());
    let doubled = |id: &str, left: &[usize], right: &[usize]| Doubled {
        id: id.to_owned(),
        left: left.to_vec(),
        right: right.to_vec(),
    };
    assert_eq!(found.doubled, [doubled("B-1", &[0, 1], &[0]), doubled("B-3", &[], &[1, 2])]);
    assert_eq!(
        found.findings[0].text,
        "Bead B-1 stands in rows 2, 3 of the left table and in row 2 of the right table; none of these is paired. \
         Mend the export."
    );
    let shown = found.table().to_string();
    assert!(shown.contains("pairs: 0, rows only left: 1, only right: 0, doubled ids: 2"), "{shown}");
}

proptest! {
    #![proptest_config(config())]

    /// Every row of both tables stands in exactly one list.
    #[test]
    fn no_row_is_dropped(left in prop::collection::vec("[AB]?[- ]?[12]?", 1..12), right in prop::collection::vec("[AB]?[- ]?[12]?", 1..12)) {
        let texts = |ids: &[String]| ids.iter().map(String::as_str).collect::<Vec<&str>>().join("\n1,");
        let layout = Layout::new("Bead", DecimalMark::Point);
        let [left, right] = [left, right].map(|ids| read(&format!("n,Bead\n1,{}\n", texts(&ids)), &layout));
        let found = join(&left, &right);
        let mut in_left: Vec<usize> = found.pairs.iter().map(|pair| pair.0).chain(found.only_left.clone()).collect();
        let mut in_right: Vec<usize> = found.pairs.iter().map(|pair| pair.1).chain(found.only_right.clone()).collect();
        in_left.extend(found.doubled.iter().flat_map(|one| one.left.clone()));
        in_right.extend(found.doubled.iter().flat_map(|one| one.right.clone()));
        in_left.sort_unstable();
        in_right.sort_unstable();
        prop_assert_eq!(in_left, (0..left.rows().len()).collect::<Vec<_>>());
        prop_assert_eq!(in_right, (0..right.rows().len()).collect::<Vec<_>>());
        for (one, other) in found.pairs {
            prop_assert_eq!(&left.rows()[one].id, &right.rows()[other].id);
        }
    }
}
