//! So many places for each owner of something that stays open: pages of a session, watches of a station.
//! Never here: what is said when there is none.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

/// Places that are taken, by their owner.
#[derive(Debug)]
pub(crate) struct Places {
    most: usize,
    taken: Mutex<HashMap<String, usize>>,
}

/// One place; given back when dropped.
#[derive(Debug)]
pub(crate) struct Place {
    places: Arc<Places>,
    owner: String,
}

impl Places {
    /// So many for each owner.
    pub(crate) fn new(most: usize) -> Self {
        Self { most, taken: Mutex::default() }
    }

    /// Takes a place; nothing if the owner has all of them.
    pub(crate) fn take(self: &Arc<Self>, owner: &str) -> Option<Place> {
        let mut taken = self.taken.lock().unwrap_or_else(PoisonError::into_inner);
        let count = taken.entry(owner.to_owned()).or_default();
        if *count >= self.most {
            return None;
        }
        *count += 1;
        Some(Place { places: Arc::clone(self), owner: owner.to_owned() })
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let mut taken = self.places.taken.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(count) = taken.get_mut(&self.owner) {
            *count -= 1;
            if *count == 0 {
                taken.remove(&self.owner);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_owner_has_so_many_and_a_dropped_one_makes_room() {
        let places = Arc::new(Places::new(2));
        let (first, second) = (places.take("bay-1"), places.take("bay-1"));
        assert!(first.is_some() && second.is_some() && places.take("bay-1").is_none());
        assert!(places.take("bay-2").is_some());
        drop(first);
        let third = places.take("bay-1");
        assert!(third.is_some() && places.take("bay-1").is_none());
    }
}
