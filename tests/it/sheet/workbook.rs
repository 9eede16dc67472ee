//! Bytes that are no workbook; whole workbooks are read by the Python tests, where one is written first.

use beadchem::code::Code;
use beadchem::sheet::Sheet;
use proptest::prelude::*;

use super::{config, plain};

proptest! {
    #![proptest_config(config())]

    #[test]
    fn any_bytes_are_refused_as_a_workbook(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        let refused = Sheet::read_xlsx(&bytes, None, &plain()).unwrap_err();
        prop_assert_eq!(refused.code(), Code::TableUnreadable);
    }
}
