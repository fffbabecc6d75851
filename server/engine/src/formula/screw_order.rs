//! The order in which the screws of a ring are tightened, where the maker's drawing states none.
//!
//! Only the order: torques and stages are the catalogue's and the workshop's. Question, bay sheet and record call it.

/// Fewest screws that have an order worth saying.
pub const SCREWS_LEAST: u32 = 3;
/// Most screws of a ring (common practice, no source).
pub const SCREWS_MOST: u32 = 60;

/// Places of the screws round the ring, counted from 1, in the order of tightening.
///
/// In pairs. The second of a pair is the free screw farthest round the ring from the one just done. The first of the
/// next pair is the free screw that keeps away from all that are done: its distances to them, sorted, are the largest
/// one after the other; a neighbour of the last screw is taken only when nothing else is left. Of equals the lowest
/// place counts.
///
/// * `count` – screws of the ring, 1 to 60; outside it the order is empty
///
/// # Source
/// Rule of our own. It gives the cross pattern of ASME PCC-1 (legacy table, from memory) for 12, 16 and 24 screws; the
/// maker's drawing always goes first.
///
/// # Deviation
/// For 20 screws the order differs from that table and keeps its sense: consecutive screws are never neighbours.
///
/// # Example
/// ```
/// use standpipe_engine::formula::screw_order::ring_order;
/// assert_eq!(ring_order(8), [1, 5, 3, 7, 2, 6, 4, 8]);
/// assert_eq!(ring_order(12), [1, 7, 4, 10, 2, 8, 5, 11, 3, 9, 6, 12]);
/// ```
#[must_use]
pub fn ring_order(count: u32) -> Vec<u32> {
    if !(1..=SCREWS_MOST).contains(&count) {
        return Vec::new();
    }
    let mut order = vec![1];
    let mut free: Vec<u32> = (2..=count).collect();
    while let Some(last) = order.last().copied() {
        let second_of_pair = order.len() % 2 == 1;
        let next = if second_of_pair {
            farthest(count, &free, |screw| vec![distance(count, screw, last)])
        } else {
            let apart: Vec<u32> =
                free.iter().copied().filter(|screw| distance(count, *screw, last) > 1).collect();
            let from = if apart.is_empty() { &free } else { &apart };
            farthest(count, from, |screw| {
                let mut distances: Vec<u32> =
                    order.iter().map(|done| distance(count, screw, *done)).collect();
                distances.sort_unstable();
                distances
            })
        };
        let Some(next) = next else { break };
        free.retain(|screw| *screw != next);
        order.push(next);
    }
    order
}

/// The screw with the largest distances, the lowest of equals.
fn farthest(count: u32, free: &[u32], distances: impl Fn(u32) -> Vec<u32>) -> Option<u32> {
    free.iter().copied().max_by_key(|screw| (distances(*screw), count - *screw))
}

/// How far two screws are apart round the ring.
fn distance(count: u32, one: u32, other: u32) -> u32 {
    let apart = one.abs_diff(other);
    apart.min(count - apart)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn every_screw_comes_once_the_first_first_and_neighbours_never_follow(count in 3_u32..=24) {
            let order = ring_order(count);
            let mut sorted = order.clone();
            sorted.sort_unstable();
            prop_assert_eq!(sorted, (1..=count).collect::<Vec<_>>());
            prop_assert_eq!(order.first(), Some(&1));
            let apart = order.windows(2).all(|pair| distance(count, pair[0], pair[1]) > 1);
            prop_assert!(apart || count < 6, "{:?}", order);
        }

        #[test]
        fn what_is_no_ring_has_no_order(count in 61_u32..1000) {
            prop_assert!(ring_order(count).is_empty() && ring_order(0).is_empty());
        }
    }

    #[test]
    fn the_largest_ring_is_ordered_too() {
        assert_eq!(ring_order(SCREWS_MOST).len(), 60);
        assert_eq!((ring_order(1), ring_order(2)), (vec![1], vec![1, 2]));
    }
}
