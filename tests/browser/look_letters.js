() => {
    const pen = document.createElement("canvas").getContext("2d");
    const seen = new Map();
    const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walker.nextNode()) {
        const node = walker.currentNode;
        const one = node.parentElement;
        if (!node.data.trim() || one.closest(".unseen, svg, script, noscript, option")) continue;
        if (!one.checkVisibility({ visibilityProperty: true })) continue;
        const style = getComputedStyle(one);
        pen.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
        const height = pen.measureText("H").actualBoundingBoxAscent;
        const name = `${one.tagName}.${one.className} ${node.data.trim().slice(0, 30)}`;
        seen.set(name, height);
    }
    return [...seen];
}
