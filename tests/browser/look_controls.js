(mm) => {
    const seen = [...document.querySelectorAll(
        "button, select, textarea, input[type=text], input[type=time], .choice, .control, .tab, summary")]
        .filter((one) => one.checkVisibility())
        .map((one) => [one, one.getBoundingClientRect()]);
    const name = (one) => `${one.tagName}.${one.className} ${one.textContent.slice(0, 24)}`;
    const small = [], near = [];
    for (const [one, box] of seen) {
        const least = one.matches(".confirm") ? 20 : 15;
        if (Math.min(box.width, box.height) / mm < least) small.push([name(one), box.width / mm, box.height / mm]);
        for (const [other, its] of seen) {
            // What sticks to the lower edge lies over what scrolls: no pair of neighbours.
            const sticks = (any) => any.closest("nav, .save, .hand, .jumps, .prepare > .confirm") !== null;
            if (one === other || one.contains(other) || other.contains(one) || sticks(one) !== sticks(other)) continue;
            const dx = Math.max(its.left - box.right, box.left - its.right);
            const dy = Math.max(its.top - box.bottom, box.top - its.bottom);
            if (Math.max(dx, dy) / mm < 3) near.push([name(one), name(other), Math.max(dx, dy) / mm]);
        }
    }
    return { small, near };
}
