//! The tree of partial chains: each distinct one is a node, so that it is rendered once.

use super::Class;

/// One partial chain.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Node {
    /// The effects that it adds to the partial chain of its parent, first applied first: places in
    /// the chain. One, unless the tree is [`fused`](Tree::fused); none for the root.
    pub run: Vec<usize>,
    /// The nodes that go on from it.
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
        let mut nodes = vec![Node { run: Vec::new(), children: Vec::new() }];
        let leaves = classes
            .iter()
            .map(|class| {
                let mut at = 0;
                for &effect in class.order.iter().filter(|&&effect| !is_idle(effect)) {
                    let known = nodes[at].children.iter().copied().find(|&c| nodes[c].run == [effect]);
                    at = known.unwrap_or_else(|| {
                        nodes.push(Node { run: vec![effect], children: Vec::new() });
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

    /// The tree without the partial chains that only lead to one other: where a node has a single
    /// child, ends no class, and `may(run, effects)` says that the child's effects may join its run,
    /// both become one node.
    pub fn fused(&self, may: impl Fn(&[usize], &[usize]) -> bool) -> Self {
        let mut ends_class = vec![false; self.nodes.len()];
        for &leaf in &self.leaves {
            ends_class[leaf] = true;
        }
        let mut nodes = vec![Node { run: Vec::new(), children: Vec::new() }];
        let mut new_place = vec![0; self.nodes.len()];
        // (node, the new node of its parent)
        let mut open: Vec<(usize, usize)> = self.nodes[0].children.iter().rev().map(|&c| (c, 0)).collect();
        while let Some((mut at, parent)) = open.pop() {
            let mut run = self.nodes[at].run.clone();
            while let [only] = self.nodes[at].children[..]
                && !ends_class[at]
                && may(&run, &self.nodes[only].run)
            {
                run.extend_from_slice(&self.nodes[only].run);
                at = only;
            }
            nodes.push(Node { run, children: Vec::new() });
            let place = nodes.len() - 1;
            nodes[parent].children.push(place);
            new_place[at] = place;
            open.extend(self.nodes[at].children.iter().rev().map(|&child| (child, place)));
        }
        Self { nodes, leaves: self.leaves.iter().map(|&leaf| new_place[leaf]).collect() }
    }

    /// The part of the tree that leads to some of its classes; they are numbered as they are listed.
    #[must_use]
    pub fn part(&self, classes: &[usize]) -> Self {
        let mut parent = vec![0; self.nodes.len()];
        for (at, node) in self.nodes.iter().enumerate() {
            node.children.iter().for_each(|&child| parent[child] = at);
        }
        let mut is_part = vec![false; self.nodes.len()];
        is_part[0] = true;
        for &class in classes {
            let mut at = self.leaves[class];
            while !is_part[at] {
                is_part[at] = true;
                at = parent[at];
            }
        }
        let mut new_place = vec![0; self.nodes.len()];
        let mut nodes: Vec<Node> = Vec::new();
        for (at, node) in self.nodes.iter().enumerate().filter(|&(at, _)| is_part[at]) {
            new_place[at] = nodes.len();
            nodes.push(Node { run: node.run.clone(), children: Vec::new() });
            if at > 0 {
                nodes[new_place[parent[at]]].children.push(new_place[at]);
            }
        }
        Self { nodes, leaves: classes.iter().map(|&class| new_place[self.leaves[class]]).collect() }
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
    fn fusing_takes_in_what_leads_to_one_other_and_nothing_else() {
        let tree = Tree::of(&Classes::new((0..5).collect(), |_, _| false).all(), |_| false);
        // Each of the 120 chains of four effects leads to one chain of five.
        let fused = tree.fused(|_, _| true);
        assert_eq!((fused.passes(), fused.depth(), fused.leaves.len()), (5 + 20 + 60 + 120, 4, 120));
        // Along any path the same effects in the same order.
        let chains = |tree: &Tree| -> Vec<Vec<usize>> {
            let mut parent = vec![0; tree.nodes.len()];
            for (at, node) in tree.nodes.iter().enumerate() {
                node.children.iter().for_each(|&child| parent[child] = at);
            }
            let chain = |&leaf: &usize| {
                let mut chain = Vec::new();
                let mut at = leaf;
                while at != 0 {
                    chain.splice(0..0, tree.nodes[at].run.iter().copied());
                    at = parent[at];
                }
                chain
            };
            tree.leaves.iter().map(chain).collect()
        };
        assert_eq!(chains(&fused), chains(&tree));
        // Effect 3 may join nothing, so that a run never holds it behind another.
        let picky = tree.fused(|_, next| !next.contains(&3));
        assert_eq!(chains(&picky), chains(&tree));
        assert!(picky.nodes.iter().all(|node| node.run.iter().skip(1).all(|&effect| effect != 3)));
    }

    #[test]
    fn an_idle_effect_costs_no_pass() {
        let classes = Classes::new((0..3).collect(), |a, b| a == 1 || b == 1).all();
        let tree = Tree::of(&classes, |effect| effect == 1);
        assert_eq!((classes.len(), tree.passes()), (2, 4));
    }
}
