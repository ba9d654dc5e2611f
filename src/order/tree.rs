//! The tree of partial chains: each distinct one is a node, so that it is rendered once.

use super::Class;

/// One partial chain.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Node {
    /// The effect that it ends with: a place in the chain.
    pub effect: usize,
    /// The nodes that add one effect to it.
    pub children: Vec<usize>,
}

/// Every distinct partial chain of a set of orders; node 0 is the chain of no effects.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tree {
    /// The nodes; a child comes after its parent.
    pub nodes: Vec<Node>,
    /// For each class, the node of its whole chain.
    pub leaves: Vec<usize>,
}

impl Tree {
    /// The tree of these classes' normal forms. Effects for which `is_idle`
    /// change nothing, so they make no node of their own.
    pub fn of(classes: &[Class], is_idle: impl Fn(usize) -> bool) -> Self {
        let mut nodes = vec![Node { effect: usize::MAX, children: Vec::new() }];
        let leaves = classes
            .iter()
            .map(|class| {
                let mut at = 0;
                for &effect in class.order.iter().filter(|&&effect| !is_idle(effect)) {
                    let known = nodes[at].children.iter().copied().find(|&c| nodes[c].effect == effect);
                    at = known.unwrap_or_else(|| {
                        nodes.push(Node { effect, children: Vec::new() });
                        let new = nodes.len() - 1;
                        nodes[at].children.push(new);
                        new
                    });
                }
                at
            })
            .collect();
        Self { nodes, leaves }
    }

    /// Pictures that have to be rendered: every node but the root.
    pub fn passes(&self) -> usize {
        self.nodes.len() - 1
    }

    /// The most effects that one node's chain has.
    pub fn depth(&self) -> usize {
        let mut depths = vec![0; self.nodes.len()];
        for (at, node) in self.nodes.iter().enumerate() {
            for &child in &node.children {
                depths[child] = depths[at] + 1;
            }
        }
        depths.into_iter().max().unwrap_or(0)
    }
}

#[cfg(test)]
mod tests {
    use super::super::Classes;
    use super::*;

    #[test]
    fn partial_chains_are_shared() {
        // Five effects that never commute: 5 + 20 + 60 + 120 + 120 partial chains.
        let classes = Classes::new((0..5).collect(), |_, _| false).all();
        let tree = Tree::of(&classes, |_| false);
        assert_eq!((tree.passes(), tree.leaves.len(), tree.depth()), (325, 120, 5));
    }

    #[test]
    fn an_idle_effect_costs_no_pass() {
        let classes = Classes::new((0..3).collect(), |a, b| a == 1 || b == 1).all();
        let tree = Tree::of(&classes, |effect| effect == 1);
        assert_eq!((classes.len(), tree.passes()), (2, 4));
    }
}
