//! What is copied past the caches is there, whatever it begins and ends with.

use beadchem::numeric::memory::{LARGE_BYTES, copy_past_caches, settle, zeros};
use beadchem::scalar::Lanes;

#[test]
fn every_number_is_copied_and_none_beside() {
    let from: Vec<Lanes<16>> = (0..4_u8).map(|block| Lanes([f64::from(block) + 1.0; 16])).collect();
    let flat: Vec<f64> = from.iter().flat_map(|lanes| lanes.0).collect();
    for first in 0..9 {
        for count in 0..=64 {
            let mut room = vec![-1.0; 9 + 64 + 1];
            copy_past_caches(&from, &mut room[first..first + count]);
            settle();
            assert_eq!(room[first..first + count], flat[..count], "{count} from {first}");
            assert!(room[..first].iter().chain(&room[first + count..]).all(|&number| number == -1.0));
        }
    }
}

#[test]
fn more_room_than_numbers_is_left_as_it_is() {
    let mut room = [-1.0; 20];
    copy_past_caches(&[Lanes([2.0; 8])], &mut room);
    settle();
    assert_eq!((room[7], room[8]), (2.0, -1.0));
}

#[test]
fn zeros_are_zeros_small_and_large() {
    for count in [0, 1, LARGE_BYTES / 8, LARGE_BYTES / 8 + 3] {
        let numbers = zeros(count).unwrap_or_default();
        assert!(numbers.len() == count && numbers.iter().all(|&number| number == 0.0));
    }
}
