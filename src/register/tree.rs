//! The tree over the log: RFC 6962, section 2.1.

use sha2::{Digest as _, Sha256};

use crate::record::hexadecimal;

type Node = [u8; 32];

/// The roots over the first 0, 1, 2, … leaves.
#[derive(Clone, Debug)]
pub(super) struct Tree {
    /// The roots of the full subtrees, the largest first, with their sizes.
    peaks: Vec<(u64, Node)>,
    /// The root at each size.
    roots: Vec<Node>,
}

impl Default for Tree {
    fn default() -> Tree {
        Tree { peaks: Vec::new(), roots: vec![Sha256::digest([]).into()] }
    }
}

impl Tree {
    /// Adds a leaf.
    pub(super) fn add(&mut self, leaf: &[u8]) {
        let mut node: Node = Sha256::new().chain_update([0]).chain_update(leaf).finalize().into();
        let mut size = 1;
        while let Some((left_size, left)) = self.peaks.pop_if(|(left_size, _)| *left_size == size) {
            node = join(&left, &node);
            size += left_size;
        }
        self.peaks.push((size, node));
        let last = self.peaks.iter().rev().map(|(_, node)| *node);
        let root = last.reduce(|right, left| join(&left, &right)).unwrap_or(node);
        self.roots.push(root);
    }

    /// How many leaves.
    pub(super) fn size(&self) -> u64 {
        self.roots.len() as u64 - 1
    }

    /// The root over the first leaves, if there are so many.
    pub(super) fn root(&self, size: u64) -> Option<String> {
        self.roots.get(usize::try_from(size).ok()?).map(|node| hexadecimal(node))
    }
}

fn join(left: &Node, right: &Node) -> Node {
    Sha256::new().chain_update([1]).chain_update(left).chain_update(right).finalize().into()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The definition of RFC 6962, section 2.1, word for word, for any number of leaves.
    fn defined(leaves: &[&[u8]]) -> Node {
        match leaves {
            [] => Sha256::digest([]).into(),
            [leaf] => Sha256::new().chain_update([0]).chain_update(leaf).finalize().into(),
            _ => {
                let k = leaves.len().next_power_of_two() / 2;
                join(&defined(&leaves[..k]), &defined(&leaves[k..]))
            }
        }
    }

    #[test]
    fn the_tree_is_the_one_defined() {
        let texts: Vec<String> = (0..40).map(|n| format!("leaf {n}")).collect();
        let leaves: Vec<&[u8]> = texts.iter().map(String::as_bytes).collect();
        let mut tree = Tree::default();
        for size in 0..=leaves.len() {
            assert_eq!(tree.size(), size as u64);
            assert_eq!(tree.root(size as u64).unwrap(), hexadecimal(&defined(&leaves[..size])), "{size} leaves");
            if let Some(leaf) = leaves.get(size) {
                tree.add(leaf);
            }
        }
    }

    /// The roots that the test vectors of Certificate Transparency give for the leaves "", 00, 10 and
    /// 20 21; from memory of the vectors published with RFC 6962's first log.
    #[test]
    fn the_roots_are_the_published_ones() {
        let mut tree = Tree::default();
        assert_eq!(tree.root(0).unwrap(), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
        tree.add(b"");
        assert_eq!(tree.root(1).unwrap(), "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d");
        tree.add(&[0]);
        assert_eq!(tree.root(2).unwrap(), "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125");
    }
}
