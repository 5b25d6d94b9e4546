//! Groups: a small table from a key's bytes to what is gathered of it.
//!
//! Rows of one job stand together, so the last key is tried first. The order
//! of the groups that come out is that of their keys.

/// Groups that are few beside the rows.
#[derive(Clone, Debug)]
pub struct Groups<T> {
    /// Slot numbers plus one, 0 for none; a power of two of them.
    index: Vec<u32>,
    /// The end of each key in `keys`.
    slots: Vec<(usize, usize, T)>,
    keys: Vec<u8>,
    last: usize,
}

impl<T> Default for Groups<T> {
    fn default() -> Self {
        Self {
            index: vec![0; 64],
            slots: Vec::new(),
            keys: Vec::new(),
            last: 0,
        }
    }
}

impl<T> Groups<T> {
    /// What is gathered of a key; `new` begins it.
    pub fn of(&mut self, key: &[u8], new: impl FnOnce() -> T) -> &mut T {
        if !self.is(self.last, key) {
            self.last = self.find(key, new);
        }
        &mut self.slots[self.last].2
    }

    /// How many keys there are.
    #[expect(
        clippy::len_without_is_empty,
        reason = "nobody asks whether there are none"
    )]
    pub fn len(&self) -> usize {
        self.slots.len()
    }

    /// Keys and what was gathered, in the order of the keys.
    pub fn sorted(self) -> Vec<(Vec<u8>, T)> {
        let keys = self.keys;
        let own = |(from, to, of): (usize, usize, T)| (keys[from..to].to_vec(), of);
        let mut all: Vec<_> = self.slots.into_iter().map(own).collect();
        all.sort_by(|a, b| a.0.cmp(&b.0));
        all
    }

    /// Gives each key and what was gathered of it.
    pub fn drain(self, mut each: impl FnMut(&[u8], T)) {
        for (from, to, of) in self.slots {
            each(&self.keys[from..to], of);
        }
    }

    fn is(&self, slot: usize, key: &[u8]) -> bool {
        let slot = self.slots.get(slot);
        slot.is_some_and(|(from, to, _)| &self.keys[*from..*to] == key)
    }

    fn find(&mut self, key: &[u8], new: impl FnOnce() -> T) -> usize {
        if self.slots.len() * 2 >= self.index.len() {
            self.grow();
        }
        let mut at = self.place(key);
        loop {
            match self.index[at] {
                0 => break,
                slot if self.is(slot as usize - 1, key) => return slot as usize - 1,
                _ => at = (at + 1) & (self.index.len() - 1),
            }
        }
        let from = self.keys.len();
        self.keys.extend(key);
        self.slots.push((from, self.keys.len(), new()));
        self.index[at] = self.slots.len() as u32;
        self.slots.len() - 1
    }

    fn place(&self, key: &[u8]) -> usize {
        (digest(key) >> 32) as usize & (self.index.len() - 1)
    }

    fn grow(&mut self) {
        self.index = vec![0; self.index.len() * 4];
        for slot in 0..self.slots.len() {
            let (from, to, _) = self.slots[slot];
            let mut at = self.place(&self.keys[from..to]);
            while self.index[at] != 0 {
                at = (at + 1) & (self.index.len() - 1);
            }
            self.index[at] = slot as u32 + 1;
        }
    }
}

/// Eight bytes at a time, mixed by a multiplication (own; no defence against
/// keys chosen to collide, which only cost time).
fn digest(key: &[u8]) -> u64 {
    let mix = |hash: u64, word: u64| {
        let product = u128::from(hash ^ word) * 0x9E37_79B9_7F4A_7C15_u128;
        (product >> 64) as u64 ^ product as u64
    };
    let (words, rest) = key.as_chunks::<8>();
    let words = words.iter().map(|word| u64::from_le_bytes(*word));
    let mut last = [0; 8];
    last[..rest.len()].copy_from_slice(rest);
    let hash = words.fold(key.len() as u64 + 1, mix);
    mix(hash, u64::from_le_bytes(last))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::collections::BTreeMap;

    proptest! {
        #[test]
        fn keys_gather_as_in_a_sorted_map(keys in proptest::collection::vec("[a-c,]{0,5}", 0..400)) {
            let mut groups: Groups<u32> = Groups::default();
            let mut map: BTreeMap<Vec<u8>, u32> = BTreeMap::new();
            for key in &keys {
                *groups.of(key.as_bytes(), || 0) += 1;
                *map.entry(key.clone().into_bytes()).or_default() += 1;
            }
            prop_assert_eq!(groups.len(), map.len());
            prop_assert_eq!(groups.sorted(), map.into_iter().collect::<Vec<_>>());
        }
    }
}
